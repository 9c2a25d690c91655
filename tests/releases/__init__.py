"""What each release was, and that today's program goes on from it.

`fixtures/releases/VERSION` keeps a database of that release with one of everything, on SQLite and on
PostgreSQL, and what it promised to other programs. `python -m tests.releases` makes the folder of this
release.
"""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "fixtures" / "releases"
DUMPS = {"sqlite": "sqlite.sql.xz", "postgresql": "postgresql.sql.xz"}


def versions() -> list[str]:
    """Kept releases, the oldest first."""
    return sorted((folder.name for folder in KEPT.iterdir() if folder.is_dir()), key=in_order)


def in_order(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))
