"""A database as one file of plain SQL, compressed: everything that makes it anew, its triggers too."""

import lzma
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

from tests.releases import DUMPS


def dump_file(file: Path, folder: Path) -> None:
    """SQLite, by Python's own reader, which knows nothing of the tables. Not in a process of keyctl: there
    `sqlite3` is another library, which cannot do this."""
    with sqlite3.connect(file) as database:
        _keep("\n".join(database.iterdump()), folder, "sqlite")


def dump_server(place: dict[str, Any], folder: Path) -> None:
    """PostgreSQL, by its own program."""
    words = ["pg_dump", "--no-owner", "--no-privileges", "--rows-per-insert=200"]
    words += ["-h", place["HOST"], "-p", str(place["PORT"]), "-U", place["USER"], place["NAME"]]
    told = subprocess.run(words, capture_output=True, text=True, check=True)  # noqa: S603 (our own server)
    lines = (line for line in told.stdout.splitlines() if not _is_for_its_own_client(line))
    _keep("\n".join(lines), folder, "postgresql")


def read_dump(folder: Path, vendor: str) -> str:
    return lzma.decompress((folder / DUMPS[vendor]).read_bytes()).decode()


def _keep(text: str, folder: Path, vendor: str) -> None:
    (folder / DUMPS[vendor]).write_bytes(lzma.compress(text.encode(), preset=9))


def _is_for_its_own_client(line: str) -> bool:
    """Commands of `psql`, remarks, and a setting that older servers do not know."""
    return line.startswith(("\\", "--", "SET transaction_timeout")) or not line
