"""``python -m tests.releases``: keep what this release is, for the tests of all releases after it.

Its folder is made anew until it is tagged, and never after.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from keyctl import __version__
from tests.releases import KEPT, ROOT
from tests.releases.dumping import dump_file

FILL = [sys.executable, "-m", "tests.releases.filling"]
PROMISED = ("tests/api/openapi.json", "pinning/data/commands.schema.json")


def main() -> int:
    if is_tagged(__version__):
        print(f"{__version__} was released. Raise the version in keyctl/__init__.py first.", file=sys.stderr)  # noqa: T201
        return 1
    with tempfile.TemporaryDirectory(prefix="keyctl-release-") as scratch:
        keep(Path(scratch), KEPT / __version__)
    return 0


def is_tagged(version: str) -> bool:
    asked = ["git", "tag", "--list", f"v{version}"]
    told = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True)  # noqa: S603
    return bool(told.stdout.strip())


def keep(scratch: Path, folder: Path) -> None:
    on_sqlite, on_postgresql = scratch / "sqlite", scratch / "postgresql"
    subprocess.run([*FILL, str(on_sqlite)], cwd=ROOT, check=True)  # noqa: S603 (our own)
    dump_file(on_sqlite / "data" / "keyctl.sqlite3", on_sqlite)
    subprocess.run(["bash", ".ci/postgres", *FILL, str(on_postgresql)], cwd=ROOT, check=True)  # noqa: S603, S607
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    made = [*on_sqlite.glob("sqlite.*"), *on_sqlite.glob("promises.*"), *on_postgresql.glob("postgresql.*")]
    for file in [*made, *(ROOT / name for name in PROMISED)]:
        shutil.copyfile(file, folder / file.name)


if __name__ == "__main__":
    sys.exit(main())
