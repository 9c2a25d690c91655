"""One writer at a time, first come first served.

SQLite lets one transaction write. Who comes while it is busy sleeps and tries again, longer and longer, so
that a newcomer overtakes whoever waits longest: of eight writers one waits for seconds. Here the threads of a
process queue in the order in which they came; processes take turns by two locks on a file: one for who
writes, one for who is next.
"""

import fcntl
import os
from collections import deque
from collections.abc import Callable
from pathlib import Path
from threading import Event, Lock
from time import monotonic, sleep

FIRST_PAUSE_S = 0.0005
LONGEST_PAUSE_S = 0.004


class GateClosed(Exception):
    """The turn did not come in time, or the file to queue at cannot be opened."""


class Gate:
    def __init__(self, file: Path) -> None:
        self._file = file
        self._descriptor: int | None = None
        self._mutex = Lock()
        self._is_taken = False
        self._waiting: deque[Event] = deque()

    def enter(self, timeout: float) -> None:
        """Wait for one's turn, at most ``timeout`` seconds; ``leave`` hands it on."""
        deadline = monotonic() + timeout
        self._queue(timeout)
        try:
            self._lock_file(deadline)
        except BaseException:
            self._hand_on()
            raise

    def leave(self) -> None:
        if self._descriptor is not None:
            fcntl.flock(self._descriptor, fcntl.LOCK_UN)
        self._hand_on()

    def _queue(self, timeout: float) -> None:
        with self._mutex:
            if not self._is_taken:
                self._is_taken = True
                return
            turn = Event()
            self._waiting.append(turn)
        if turn.wait(timeout):
            return
        with self._mutex:
            if turn.is_set():  # in the last moment
                return
            self._waiting.remove(turn)
        raise GateClosed("Others were writing all the time. Nothing was changed; try again.")

    def _hand_on(self) -> None:
        with self._mutex:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._is_taken = False

    def _lock_file(self, deadline: float) -> None:
        """Who waits holds the next turn meanwhile: a worker that writes row after row would come back before
        anybody who sleeps between two looks, and a page would wait for all of its rows."""
        file = self._opened()
        self._wait(lambda: fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, 1), deadline)
        try:
            self._wait(lambda: fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB), deadline)
        finally:
            fcntl.lockf(file, fcntl.LOCK_UN, 1)

    def _wait(self, lock: Callable[[], None], deadline: float) -> None:
        pause = FIRST_PAUSE_S
        while True:
            try:
                return lock()
            except BlockingIOError:
                if monotonic() >= deadline:
                    raise GateClosed("Another process is writing. Nothing was changed; try again.") from None
                sleep(pause)
                pause = min(pause * 2, LONGEST_PAUSE_S)

    def _opened(self) -> int:
        if self._descriptor is None:
            try:
                self._descriptor = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            except OSError as error:
                raise GateClosed(f"{self._file} cannot be opened: {error.strerror}.") from error
        return self._descriptor


_gates: dict[Path, Gate] = {}
_gates_mutex = Lock()


def gate_for(database: Path) -> Gate:
    """The gate of a database file; all connections of the process share it."""
    file = database.with_name(f"{database.name}.gate")
    with _gates_mutex:
        return _gates.setdefault(file, Gate(file))


def _forget() -> None:
    """A forked child would share its parent's lock on the file, and inherit its queue."""
    global _gates_mutex  # noqa: PLW0603 (the parent's may be held)
    _gates.clear()
    _gates_mutex = Lock()


os.register_at_fork(after_in_child=_forget)
