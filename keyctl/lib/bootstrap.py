"""Makes the project's own .venv from the locked requirements.

Standard library only: it runs before anything is installed.
"""

import errno
import fcntl
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOM_NEEDED = 1_300_000_000  # bytes; everything with the test tools takes about 970 MB
UNFINISHED = "unfinished"
TELLING_LINES = 6


class CannotStart(Exception):
    """Its text is shown as it stands: what is wrong and what to do."""


@dataclass(frozen=True)
class Home:
    root: Path

    @property
    def venv(self) -> Path:
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        return self.venv / "bin" / "python3.11"

    @property
    def stamp(self) -> Path:
        """Says which locked requirements were installed to the end, one digest per line."""
        return self.venv / "keyctl-installed"

    def locks(self, testing: bool) -> list[Path]:
        runtime = self.root / "requirements.txt"
        return [runtime, self.root / ".ci" / "requirements.txt"] if testing else [runtime]


def enter_venv(home: Home, argv: Sequence[str], testing: bool) -> None:
    """Returns where this Python may go on as it is; otherwise the .venv's Python takes its place."""
    if os.environ.get("KEYCTL_NO_VENV") == "1" or Path(sys.prefix).resolve() == home.venv.resolve():
        return
    prepare(home, home.locks(testing))
    # With PYTHONHOME the new Python would not find its .venv and come back here for ever.
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONHOME"}
    command = [str(home.python), str(home.root / "manage.py"), *argv[1:]]
    sys.stderr.flush()
    os.execve(home.python, command, environment)  # noqa: S606 (its own Python, no shell)


def prepare(home: Home, locks: Sequence[Path]) -> None:
    try:
        if missing(home, locks):
            with one_at_a_time(home) as held:
                bring_up_to_date(home, locks, held)
    except OSError as error:
        raise CannotStart(reason(error, home)) from error


def bring_up_to_date(home: Home, locks: Sequence[Path], held: int) -> None:
    absent = missing(home, locks)
    if not absent:
        return  # another start did it while this one waited
    require_room(home)
    if not usable(home):
        make_venv(home, held)
    before = installed(home)
    home.stamp.write_text(UNFINISHED)
    for lock in absent:
        if complaint := install(home, lock, held):
            # pip gave up in good order: what was there still stands, and the next start need not rebuild.
            write_stamp(home, before)
            raise CannotStart(complaint)
    write_stamp(home, [digest(lock) for lock in locks])


def missing(home: Home, locks: Sequence[Path]) -> list[Path]:
    done = installed(home) if usable(home) else []
    return [lock for lock in locks if digest(lock) not in done]


def installed(home: Home) -> list[str]:
    try:
        return home.stamp.read_text().split()
    except FileNotFoundError:
        return []


def usable(home: Home) -> bool:
    whole = (home.venv / "pyvenv.cfg").is_file() and home.python.exists()
    return whole and UNFINISHED not in installed(home)


def digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def write_stamp(home: Home, digests: Sequence[str]) -> None:
    fresh = home.stamp.with_suffix(".new")
    fresh.write_text("".join(f"{each}\n" for each in digests))
    fresh.replace(home.stamp)


@contextmanager
def one_at_a_time(home: Home) -> Iterator[int]:
    """Holds a lock on the project's folder itself, so that no lock file is left behind."""
    held = os.open(home.root, os.O_RDONLY)
    try:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("waiting for another start to finish .venv")
            fcntl.flock(held, fcntl.LOCK_EX)
        yield held
    finally:
        os.close(held)


def require_room(home: Home) -> None:
    if shutil.disk_usage(home.root).free < ROOM_NEEDED:
        raise OSError(errno.ENOSPC, "too little room")


def make_venv(home: Home, held: int) -> None:
    if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        raise CannotStart(
            "keyctl: this Python cannot make virtual environments. Run `apt-get install python3-venv`, "
            "then the same command again."
        )
    say("making .venv")
    if home.venv.exists():
        shutil.rmtree(home.venv)
    home.venv.mkdir()
    home.stamp.write_text(UNFINISHED)
    code, output = run_quietly([sys.executable, "-m", "venv", str(home.venv)], held)
    if code:
        raise CannotStart(failure("making .venv", output, home))
    write_stamp(home, [])


def install(home: Home, lock: Path, held: int) -> str:
    """What went wrong, empty where nothing did."""
    count = len(re.findall(r"^\S+==", lock.read_text(), re.MULTILINE))
    say(f"installing {count} packages (about a minute)")
    began = time.monotonic()
    pip = [str(home.python), "-m", "pip", "install", "--quiet", "--no-input", "--disable-pip-version-check"]
    code, output = run_quietly([*pip, "--require-hashes", "-r", str(lock)], held)
    if code < 0:
        raise CannotStart("keyctl: the installation was stopped from outside. Run the same command again.")
    if code:
        return failure("installing packages", output, home)
    say(f"done in {time.monotonic() - began:.0f} s")
    return ""


def run_quietly(command: Sequence[str], held: int) -> tuple[int, str]:
    """The child keeps the lock too: if this process is killed, the next start waits for the child's end."""
    done = subprocess.run(  # noqa: S603 (fixed words and the project's own paths)
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        pass_fds=[held],
        text=True,
        errors="replace",
        check=False,
    )
    return done.returncode, done.stdout


def failure(doing: str, output: str, home: Home) -> str:
    lines = [line for line in output.splitlines() if line.strip() and not line.startswith("WARNING: ")]
    return "\n".join([*lines[-TELLING_LINES:], f"keyctl: {doing} failed. {remedy(output, home)}"])


def remedy(output: str, home: Home) -> str:
    if "No space left on device" in output:
        return no_room(home)
    if "DO NOT MATCH THE HASHES" in output:
        return (
            "A downloaded package is not the locked one: do not use it, and ask who runs your package index."
        )
    if "Permission denied" in output or "Read-only file system" in output:
        return unwritable(home)
    return "Check the network and pip's index settings (`pip config list`), then run the same command again."


def reason(error: OSError, home: Home) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"keyctl: {no_room(home)}"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"keyctl: {unwritable(home)}"
    return f"keyctl: cannot prepare {home.venv}: {error}. Mend that and run the same command again."


def no_room(home: Home) -> str:
    free = shutil.disk_usage(home.root).free // 1_000_000
    return (
        f"Too little disk space for {home.venv}: {ROOM_NEEDED // 1_000_000} MB are needed, "
        f"{free} MB are free. Make room and run the same command again."
    )


def unwritable(home: Home) -> str:
    return (
        f"Cannot write to {home.venv}. Start once as the owner of {home.root}, or make that folder writable; "
        "where the packages are already installed, set KEYCTL_NO_VENV=1."
    )


def say(words: str) -> None:
    sys.stderr.write(f"keyctl: {words}\n")
    sys.stderr.flush()
