"""Is the data folder a place where written means written?

What lies in memory is gone with the power; over a network share the locks of SQLite and of the gate do not
hold, and a flush may be answered before it was done.
"""

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.utils.translation import gettext as _

MOUNTS = Path("/proc/self/mounts")
IN_MEMORY = {"tmpfs", "ramfs", "devtmpfs", "hugetlbfs"}
OVER_THE_NETWORK = {
    "nfs",
    "nfs4",
    "cifs",
    "smb3",
    "smbfs",
    "9p",
    "afs",
    "ceph",
    "glusterfs",
    "lustre",
    "ncpfs",
}
# Files of another machine by a program of one's own: sshfs and its like.
BY_PROGRAM = ("fuse.sshfs", "fuse.rclone", "fuse.s3fs", "fuse.davfs", "fuse.glusterfs", "fuse.ceph")


@dataclass(frozen=True)
class Mount:
    folder: Path
    kind: str


def check_data_folder(**_facts: Any) -> list[CheckMessage]:
    """For `manage.py check`, and so for every start."""
    trouble = trouble_with(settings.DATA_DIR, settings.DATABASES["default"]["ENGINE"])
    if trouble is None or settings.ANY_DATA_FOLDER:
        return []
    hint = _(
        "Set KEYCTL_DATA_DIR to a local disk. KEYCTL_ANY_DATA_FOLDER=1 overrides this, at your own risk."
    )
    return [Error(trouble, hint=hint, id="keyctl.E001")]


def trouble_with(folder: Path, engine: str = "") -> str | None:
    """What is wrong with it, as a sentence. On PostgreSQL nothing lies there that must last."""
    if engine.endswith("postgresql"):
        return None
    mount = mount_of(folder, mounts())
    if mount is None:
        return None
    if mount.kind in IN_MEMORY:
        return _(
            "The data folder {folder} lies in memory ({kind}): it is empty after the next restart."
        ).format(folder=folder, kind=mount.kind)
    if mount.kind in OVER_THE_NETWORK or mount.kind.startswith(BY_PROGRAM):
        return _(
            "The data folder {folder} lies on another machine ({kind}), where locks do not hold."
        ).format(folder=folder, kind=mount.kind)
    return None


def mount_of(folder: Path, there: Iterable[Mount]) -> Mount | None:
    """The innermost; of several over one another the last."""
    real = Path(os.path.realpath(folder))
    around = [each for each in there if each.folder == real or each.folder in real.parents]
    return max(around, key=lambda each: len(each.folder.parts), default=None) if around else None


def mounts() -> list[Mount]:
    """None where the system does not tell."""
    try:
        lines = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return []
    return list(reversed(list(_parsed(lines))))


def _parsed(lines: Iterable[str]) -> Iterator[Mount]:
    for line in lines:
        parts = line.split(" ")
        if len(parts) >= 3:
            yield Mount(Path(_unescaped(parts[1])), parts[2])


def _unescaped(text: str) -> str:
    """Blanks, tabs, line ends and backslashes stand as octal numbers (`man 5 fstab`)."""
    for sign in " \t\n\\":
        text = text.replace(f"\\{ord(sign):03o}", sign)
    return text
