"""The power goes: of the database's files only that is left which the system said is on the disk.

Needs a C compiler. Harsh on what was not synced, and blind to sectors that are torn or written out of order.
"""

import shutil
import subprocess
from pathlib import Path

from tests.faults.serving import Ground, NotDone

SHIM = Path(__file__).with_name("shim.c")
FILES = ("", "-wal")


def built_shim(folder: Path) -> Path:
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        raise NotDone("Install a C compiler (package gcc): what stands before fsync is built with it.")
    library = folder / "shim.so"
    command = [compiler, "-shared", "-fPIC", "-O2", "-o", str(library), str(SHIM), "-ldl"]
    subprocess.run(command, check=True)  # noqa: S603
    return library


def lose_power(ground: Ground) -> None:
    """After everything was killed: what was not synced never was."""
    for end in FILES:
        file = Path(f"{ground.database}{end}")
        durable = Path(f"{file}.durable")
        if durable.exists():
            shutil.copy(durable, file)
        else:
            file.unlink(missing_ok=True)
    Path(f"{ground.database}-shm").unlink(missing_ok=True)
