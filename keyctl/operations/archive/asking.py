"""The passphrase at a terminal, or from a file; never from the command line, which others there read."""

import getpass
from pathlib import Path

from keyctl.lib.errors import Refused


def passphrase_for_export(file: Path | None) -> str:
    """Typed twice: what was mistyped would open nothing ever after."""
    if file is not None:
        return _first_line(file)
    typed = getpass.getpass("Passphrase of the archive: ")
    if getpass.getpass("Once more: ") != typed:
        raise Refused("The two differ. Nothing was written.")
    return typed


def passphrase_for_import(file: Path | None) -> str:
    return _first_line(file) if file is not None else getpass.getpass("Passphrase of the archive: ")


def _first_line(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").split("\n", 1)[0].rstrip("\r")
    except (OSError, UnicodeDecodeError):
        raise Refused(f"{file} cannot be read as text. Nothing was written.") from None
