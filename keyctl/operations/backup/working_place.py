"""A folder for a scratch database, and one maker of backups at a time.

The scratch lies in the data folder, for it holds what the database holds; what a killed process left of it
goes when the next one comes.
"""

import fcntl
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from keyctl.lib.errors import Refused

PREFIX = "scratch-"


@contextmanager
def working_place() -> Iterator[Path]:
    settings.DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    with (settings.DATA_DIR / "backup.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Refused("Another backup or drill is running. Wait until it has ended.") from None
        for left in settings.DATA_DIR.glob(f"{PREFIX}*"):
            shutil.rmtree(left, ignore_errors=True)
        folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=settings.DATA_DIR))
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)
