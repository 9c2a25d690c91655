"""The deployed product on loopback: its folders, two web processes, two workers; all ended at the end."""

import ctypes
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from types import TracebackType
from typing import Self

from tests.faults.nursery import deployed_arguments
from tests.faults.serving import NotDone, free_port

ROOT = Path(__file__).resolve().parents[2]
WEB_PROCESSES, WORKERS = 2, 2
STARTS_WITHIN_S, ENDS_WITHIN_S, ERRAND_WITHIN_S = 300.0, 30.0, 3600.0
PARTS = ("data", "secrets", "checkpoints")
# Where checkpoints lie if nobody says otherwise.
BESIDE_DATA = "data-checkpoints"
DIES_WITH_PARENT = 1  # of prctl(2)


def die_with_parent() -> None:
    """Whatever becomes of the driver, nothing of it goes on serving."""
    ctypes.CDLL(None).prctl(DIES_WITH_PARENT, signal.SIGTERM)


class Ground:
    def __init__(self, folder: Path, database_url: str = "") -> None:
        self.folder, self.database_url, self.port = folder, database_url, free_port()
        self._servers: dict[str, subprocess.Popen[bytes]] = {}
        kept = {name: value for name, value in os.environ.items() if not name.startswith("KEYCTL_")}
        self.environment = kept | {
            "DJANGO_SETTINGS_MODULE": "keyctl.settings",
            "KEYCTL_DATA_DIR": str(folder / "data"),
            "KEYCTL_SECRETS_DIR": str(folder / "secrets"),
            "KEYCTL_CHECKPOINT_DIR": str(folder / "checkpoints"),
            "KEYCTL_DATABASE_URL": database_url,
            "KEYCTL_BASE_URL": f"http://127.0.0.1:{self.port}",
            "KEYCTL_BEHIND_PROXY": "1",
            "KEYCTL_LOGS": "json",
            "PYTHONWARNINGS": "ignore",
        }

    @property
    def database(self) -> Path:
        return self.folder / "data" / "keyctl.sqlite3"

    @property
    def logs(self) -> list[Path]:
        return sorted(self.folder.glob("*.log"))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self.stop()

    def take(self, estate: Path) -> None:
        """A copy of an estate that somebody built: nothing is done to theirs."""
        for part in PARTS:
            place = estate / part
            if part == "checkpoints" and not place.exists():
                place = estate / BESIDE_DATA
            if place.exists():
                shutil.copytree(place, self.folder / part)

    def run(self, *arguments: str, within: float = ERRAND_WITHIN_S) -> str:
        """A command of the product's own Python; its words."""
        done = subprocess.run(  # noqa: S603 (its own Python, no shell)
            [sys.executable, *arguments],
            cwd=ROOT,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=within,
            check=False,
        )
        if done.returncode:
            raise NotDone(f"{' '.join(arguments)} ended with {done.returncode}: {done.stdout}{done.stderr}")
        return done.stdout

    def start(self) -> None:
        web = [*deployed_arguments(f"127.0.0.1:{self.port}"), "--workers", str(WEB_PROCESSES)]
        self._start("web", "-m", "gunicorn", *web)
        for nth in range(1, WORKERS + 1):
            self._start(f"worker {nth}", "manage.py", "work")
        self._wait_for_web()
        self._warm()

    def _warm(self) -> None:
        """A proxy sends people where a server is ready: each process has loaded its pages by then."""
        threads = [threading.Thread(target=self._look_in) for _ in range(4 * WEB_PROCESSES)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def _look_in(self) -> None:
        for _ in range(2):
            wire = HTTPConnection("127.0.0.1", self.port, timeout=STARTS_WITHIN_S)
            with suppress(OSError, HTTPException):
                wire.request("GET", "/account/sign-in/")
                wire.getresponse().read()
            wire.close()

    def _start(self, name: str, *arguments: str) -> None:
        log = self.folder / f"{name.replace(' ', '-')}.log"
        with log.open("ab") as out:
            self._servers[name] = subprocess.Popen(  # noqa: S603 (its own Python, no shell)
                [sys.executable, *arguments],
                cwd=ROOT,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=subprocess.STDOUT,
                preexec_fn=die_with_parent,  # noqa: PLW1509 (no thread runs yet)
            )

    def _wait_for_web(self) -> None:
        deadline = time.monotonic() + STARTS_WITHIN_S
        while time.monotonic() < deadline:
            wire = HTTPConnection("127.0.0.1", self.port, timeout=60)
            with suppress(OSError):
                wire.request("GET", "/health/live")
                if wire.getresponse().status == 200 and len(self.processes()) > WEB_PROCESSES + WORKERS:
                    return
            wire.close()
            time.sleep(0.2)
        raise NotDone(f"The server did not start: {(self.folder / 'web.log').read_text()[-3000:]}")

    def processes(self) -> dict[str, int]:
        """Each by its name, the server's own children too; of one that ended, nothing."""
        return dict(self._living())

    def _living(self) -> Iterator[tuple[str, int]]:
        for name, process in self._servers.items():
            if process.poll() is not None:
                continue
            if name != "web":
                yield name, process.pid
                continue
            yield "web, the parent", process.pid
            for nth, child in enumerate(_children(process.pid), start=1):
                yield f"web {nth}", child

    def ended(self) -> list[str]:
        """Names of what should run and does not."""
        return [name for name, process in self._servers.items() if process.poll() is not None]

    def stop(self) -> None:
        for process in self._servers.values():
            with suppress(ProcessLookupError):
                process.terminate()
        deadline = time.monotonic() + ENDS_WITHIN_S
        for process in self._servers.values():
            try:
                process.wait(max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                for child in _children(process.pid):
                    with suppress(ProcessLookupError):
                        os.kill(child, signal.SIGKILL)
                process.kill()
                process.wait()
        self._servers.clear()


def _children(pid: int) -> list[int]:
    try:
        text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    except OSError:
        return []
    return sorted(int(word) for word in text.split())
