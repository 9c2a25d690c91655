"""Work on what nobody vouches for, in a process of its own with little memory, little time and no keys.

The child has no environment, no open file and no Django. It gets bytes and hands back plain data, both in
memory, never on a disk. What it does in vain is told here as one refusal.
"""

import json
import os
import select
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import BoundedSemaphore
from typing import Any, Final

from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused
from keyctl.lib.marked import fill
from keyctl.lib.numbers import as_number

INSIDE: Final = Path(__file__).with_name("inside.py")
ROOT: Final = Path(__file__).parents[3]
# So many children of one process may live at once: each may take as much memory as it is allowed.
MOST_AT_ONCE: Final = 2


@dataclass(frozen=True)
class Bounds:
    """``seconds`` of the clock end before a proxy gives up on the page that waits."""

    memory: int = 512 * 1024 * 1024
    cpu: int = 30
    seconds: float = 45.0
    answer: int = 64 * 1024 * 1024


class WentOver(Refused):
    """The work took more than it is given, or broke."""

    def __init__(self) -> None:
        super().__init__(
            _(
                "This file takes more time or memory to read than any list or picture needs, or it is broken."
                " Save it anew, or send a part of it."
            )
        )


_free = BoundedSemaphore(MOST_AT_ONCE)
DEFAULT: Final = Bounds()


def run_confined(
    work: str, content: bytes, *, bounds: Bounds = DEFAULT, needs: Sequence[str] = (), **facts: Any
) -> Any:
    """What ``work``, named "package.module:function", makes of the content and the facts.

    The function takes the bytes first, then the facts by name; facts and answer are what JSON holds. It
    ``needs`` libraries that are left out for others.
    """
    header = {"work": work, "facts": facts, "path": _path(), "limits": _limits(bounds), "needs": list(needs)}
    with _turn(bounds), _in_memory() as sent, _in_memory() as received:
        os.write(sent, json.dumps(header).encode() + b"\n")
        _write_all(sent, content)
        os.lseek(sent, 0, os.SEEK_SET)
        if _ended_with(sent, received, bounds) != 0:
            raise WentOver
        return _answer(os.pread(received, bounds.answer + 1, 0))


def _answer(raw: bytes) -> Any:
    try:
        told = json.loads(raw)
    except (ValueError, RecursionError):
        raise WentOver from None
    if "facts" in told:
        # The child only marked it.
        facts = {
            name: as_number(fact) if isinstance(fact, int) else fact for name, fact in told["facts"].items()
        }
        raise Refused(fill(_(told["refused"]), facts))
    if "refused" in told:
        raise Refused(told["refused"], reasons=told["reasons"])
    return told["done"]


def _limits(bounds: Bounds) -> dict[str, int]:
    """By the names of setrlimit(2). The answer is the one file that may grow."""
    return {
        "RLIMIT_AS": bounds.memory,
        "RLIMIT_CPU": bounds.cpu,
        "RLIMIT_FSIZE": bounds.answer,
        "RLIMIT_CORE": 0,
        "RLIMIT_NOFILE": 32,
    }


def _path() -> list[str]:
    """Where this process finds its modules, without the folder it happens to stand in."""
    return [str(ROOT), *(place for place in sys.path if place and place != str(ROOT))]


@contextmanager
def _turn(bounds: Bounds) -> Iterator[None]:
    if not _free.acquire(timeout=bounds.seconds):
        raise Refused(_("Other files are being read just now. Send this one again in a minute."))
    try:
        yield
    finally:
        _free.release()


@contextmanager
def _in_memory() -> Iterator[int]:
    descriptor = os.memfd_create("keyctl")
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def _write_all(descriptor: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(descriptor, left) :]


def _ended_with(sent: int, received: int, bounds: Bounds) -> int:
    """The child's exit status; it is killed when its time is up."""
    command = [sys.executable, "-I", "-S", "-B", str(INSIDE)]
    with subprocess.Popen(  # noqa: S603 (our own interpreter and file)
        command, stdin=sent, stdout=received, stderr=subprocess.DEVNULL, env={}, cwd="/"
    ) as child:
        watched = os.pidfd_open(child.pid)
        try:
            ready = select.poll()
            ready.register(watched, select.POLLIN)
            if not ready.poll(bounds.seconds * 1000):
                child.kill()
            return child.wait()
        finally:
            child.kill()
            os.close(watched)
