"""A small disk of the data's own: filled to its end, emptied again, broken so that it can only be read."""

import os
import shutil
import subprocess
from pathlib import Path

from tests.faults.serving import Ground

MEGABYTES = 48
CHUNK = 64 * 1024
MOUNTED = (
    "unshare",
    "--mount",
    "--propagation",
    "private",
    "sh",
    "-c",
    'mount -o loop,errors=remount-ro "$1" "$2" && shift 2 && exec "$@"',
    "sh",
)


def can_mount() -> bool:
    """A mount in a space of its own needs root, and a machine that lets it."""
    if os.geteuid() != 0 or not shutil.which("mkfs.ext4"):
        return False
    return subprocess.run(["unshare", "--mount", "true"], check=False, capture_output=True).returncode == 0  # noqa: S607


def put_on_small_disk(ground: Ground) -> None:
    """It is there for the nursery and its children alone, and goes with them."""
    image = ground.folder / "disk"
    with image.open("wb") as out:
        out.truncate(MEGABYTES * 1024 * 1024)
    # No room is kept back for root.
    subprocess.run(["mkfs.ext4", "-q", "-m", "0", str(image)], check=True)  # noqa: S603, S607
    ground.around = [*MOUNTED, str(image), str(ground.data)]


# What follows runs in a child of the nursery.


def fill(ballast: str) -> None:
    with Path(ballast).open("wb", buffering=0) as out:
        for chunk in (CHUNK, 512, 1):
            _write_to_the_end(out.fileno(), b"x" * chunk)


def _write_to_the_end(descriptor: int, data: bytes) -> None:
    try:
        while True:
            os.write(descriptor, data)
    except OSError:
        return


def empty(ballast: str) -> None:
    Path(ballast).unlink()


def make_unwritable(file: str, is_so: bool) -> None:
    """Root writes what nobody may write; not what is marked as never to be changed."""
    if os.geteuid() == 0:
        subprocess.run(["chattr", "+i" if is_so else "-i", file], check=True)  # noqa: S603, S607
    else:
        Path(file).chmod(0o444 if is_so else 0o644)


def break_disk(data: str) -> None:
    """The kernel finds an error of the file system, and lets nobody write on it any more."""
    lines = Path("/proc/self/mounts").read_text(encoding="utf-8").splitlines()
    device = next(line.split()[0] for line in lines if line.split()[1] == data)
    Path(f"/sys/fs/ext4/{Path(device).name}/trigger_fs_error").write_text("made on purpose", encoding="utf-8")


def mend_disk(image: str, data: str) -> None:
    """Taken off, looked over, and put on again."""
    for command in (["umount", data], ["fsck.ext4", "-fp", image], ["mount", "-o", "loop", image, data]):
        # A look that mended something says so by a one.
        if subprocess.run(command, check=False).returncode not in {0, 1}:  # noqa: S603
            raise OSError(f"{command} failed")
