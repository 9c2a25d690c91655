"""A PostgreSQL server of our own that waits for the disk, as its own defaults have it."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.faults.serving import NotDone, free_port


@dataclass
class Cluster:
    folder: Path
    programs: Path
    port: int

    @property
    def url(self) -> str:
        return f"postgresql://keyctl@127.0.0.1:{self.port}/keyctl"

    def run(self, program: str, *arguments: str) -> None:
        command = [str(self.programs / program), *arguments]
        # PostgreSQL refuses to run as root.
        owner: dict[str, Any] = {"user": "postgres", "group": "postgres", "extra_groups": []}
        subprocess.run(  # noqa: S603 (the programs of the server)
            command,
            cwd=self.folder,
            check=True,
            stdout=subprocess.DEVNULL,
            **(owner if os.geteuid() == 0 else {}),
        )

    def start(self) -> None:
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1"
        self.run(
            "pg_ctl", "-D", f"{self.folder}/data", "-l", f"{self.folder}/log", "-w", "-o", options, "start"
        )

    def die(self) -> None:
        """Without a checkpoint: what is not in the log on the disk is gone, and the next start recovers."""
        self.run("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "-w", "stop")


def _programs() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
    if found:
        return found[-1]
    if program := shutil.which("initdb"):
        return Path(program).parent
    raise NotDone("No PostgreSQL server found. Install the package postgresql.")


@contextmanager
def cluster(folder: Path) -> Iterator[Cluster]:
    folder.mkdir()
    if os.geteuid() == 0:
        folder.parent.chmod(0o711)
        shutil.chown(folder, "postgres", "postgres")
    made = Cluster(folder, _programs(), free_port())
    auth = ("-U", "keyctl", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8")
    made.run("initdb", "-D", f"{folder}/data", *auth)
    made.start()
    try:
        made.run("createdb", "-h", "127.0.0.1", "-p", str(made.port), "-U", "keyctl", "keyctl")
        yield made
    finally:
        made.die()
