"""What a figure was measured on: the machine, and the versions of what does the work."""

import os
import platform
import shutil
import sqlite3
import subprocess
from importlib.metadata import version
from pathlib import Path

PACKAGES = ("Django", "numpy", "ortools", "python-sat", "scipy", "weasyprint", "psycopg", "gunicorn")


def machine() -> str:
    cores, memory = os.cpu_count(), os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return f"{platform.system()} {platform.machine()}, {cores} cores, {memory:.0f} GiB"


def versions() -> dict[str, str]:
    found = {"Python": platform.python_version(), "SQLite": _sqlite(), "PostgreSQL": postgresql()}
    return found | {name: version(name) for name in PACKAGES}


def load() -> str:
    """What else the machine did in the last minute."""
    return f"{os.getloadavg()[0]:.1f}"


def _sqlite() -> str:
    try:
        import pysqlite3
    except ImportError:
        return sqlite3.sqlite_version
    return str(pysqlite3.sqlite_version)


def postgresql() -> str:
    """Empty where there is no server to start."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda path: int(path.parts[-3]))
    program = found[-1] if found else shutil.which("postgres")
    if program is None:
        return ""
    said = subprocess.run([program, "--version"], capture_output=True, text=True, check=False)  # noqa: S603
    return said.stdout.split()[2] if said.returncode == 0 else ""
