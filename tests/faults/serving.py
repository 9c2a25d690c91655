"""The driver's side: a folder on a disk, the nursery, and a server that can be killed at any moment."""

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Any, Self

ROOT = Path(__file__).resolve().parents[2]
# By custom on a disk, where /tmp may be memory.
DISK = Path(os.environ.get("KEYCTL_FAULTS_DIR", "/var/tmp"))  # noqa: S108 (a name of its own is made there)
STARTS_WITHIN_S = 60.0


class NotDone(Exception):
    """An errand failed, or the server did not come up; the words tell."""


@contextmanager
def folder_on_disk() -> Iterator[Path]:
    """Gone afterwards, but where something failed: then it is what somebody wants to look at."""
    folder = Path(tempfile.mkdtemp(prefix="keyctl-faults-", dir=DISK))
    try:
        yield folder
    except BaseException:
        print(f"What is left lies in {folder}.", file=sys.stderr)  # noqa: T201
        raise
    shutil.rmtree(folder)


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


class Ground:
    """The product's folders, its nursery, and at most one server."""

    def __init__(self, folder: Path, database_url: str = "", **environment: str) -> None:
        self.folder, self.data, self.port = folder, folder / "data", free_port()
        self.log = folder / "log"
        self._facts = {
            "KEYCTL_DATA_DIR": str(self.data),
            "KEYCTL_SECRETS_DIR": str(folder / "secrets"),
            "KEYCTL_CHECKPOINT_DIR": str(folder / "checkpoints"),
            "KEYCTL_DATABASE_URL": database_url,
            "KEYCTL_SECOND_FACTOR": "offered",
            "PYTHONWARNINGS": "ignore",
        } | environment
        # What the nursery is started by, where the data are to lie on a disk of their own.
        self.around: list[str] = []
        self._group: int | None = None
        self.database_url = database_url

    @property
    def database(self) -> Path:
        return self.data / "keyctl.sqlite3"

    def __enter__(self) -> Self:
        self.data.mkdir(parents=True, exist_ok=True)
        kept = {
            name: value for name, value in os.environ.items() if not name.startswith(("KEYCTL_", "DJANGO_"))
        }
        with self.log.open("ab") as log:
            self._nursery = subprocess.Popen(  # noqa: S603 (its own Python, no shell)
                [*self.around, sys.executable, "-m", "tests.faults.nursery"],
                cwd=ROOT,
                env=kept | self._facts,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
            )
        try:
            self._hear()
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        """The nursery ends its children when it hears no more; what does not is killed, and they with it."""
        with suppress(OSError):
            self._nursery.communicate(timeout=10)
            return
        self._nursery.kill()
        self._nursery.wait()

    def _hear(self) -> Any:
        assert self._nursery.stdout is not None
        line = self._nursery.stdout.readline()
        if not line:
            raise NotDone(f"The nursery ended: {self.log.read_text()[-3000:]}")
        return json.loads(line)

    def _order(self, **order: Any) -> Any:
        assert self._nursery.stdin is not None
        self._nursery.stdin.write(json.dumps(order) + "\n")
        self._nursery.stdin.flush()
        return self._hear()

    def run(self, function: str, **facts: Any) -> Any:
        """A function of tests.faults, in a child that has the product."""
        told = self._order(do="run", function=f"tests.faults.{function}", facts=facts)
        if "failed" in told:
            raise NotDone(told["failed"])
        return told["done"]

    def serve(self, *arguments: str, environment: dict[str, str] | None = None) -> None:
        bind = f"127.0.0.1:{self.port}"
        self._group = self._order(
            do="serve", bind=bind, arguments=list(arguments), environment=environment or {}
        )
        deadline = time.monotonic() + STARTS_WITHIN_S
        while not self._answers():
            if time.monotonic() > deadline:
                raise NotDone(f"The server did not start: {self.log.read_text()[-3000:]}")
            time.sleep(0.002)

    def _answers(self) -> bool:
        with socket.socket() as door:
            return door.connect_ex(("127.0.0.1", self.port)) == 0

    def kill(self) -> None:
        if self._group is not None:
            self._order(do="kill", group=self._group)
            self._group = None
