"""A Python client that a generator makes from the committed description, speaking to the whole application.

Nothing of it is ours but the description: what it cannot ask for, or cannot read, the description says wrong.
"""

import subprocess
import sys
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import httpx

from keyctl.wsgi import application

COPY = Path(__file__).with_name("openapi.json")
PACKAGE = "keyctl_client"
HOST = "http://127.0.0.1:8000"


def generate(folder: Path) -> Path:
    """The package; a part that the generator would leave out fails."""
    options = folder / "options.yaml"
    options.write_text("post_hooks: []\n")
    package = folder / PACKAGE
    words = ["generate", "--path", str(COPY), "--output-path", str(package), "--meta", "none"]
    words += ["--config", str(options), "--fail-on-warning"]
    run([sys.executable, "-m", "openapi_python_client", *words])
    return package


def run(words: list[str], folder: Path | None = None) -> str:
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=folder)  # noqa: S603
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@dataclass(frozen=True)
class Client:
    """Operations by the names that the generator gave them: ``client.ask("doors.doors_list", ...)``."""

    bearer: str

    def ask(self, operation: str, *args: Any, **facts: Any) -> Any:
        """The detailed answer: status, headers and what was read into a model."""
        module = import_module(f"{PACKAGE}.api.{operation}")
        return module.sync_detailed(*args, client=self._client(), **facts)

    def model(self, name: str) -> Any:
        return getattr(import_module(f"{PACKAGE}.models"), name)

    def _client(self) -> Any:
        transport = httpx.WSGITransport(app=application)
        made = import_module(f"{PACKAGE}.client").AuthenticatedClient
        return made(base_url=HOST, token=self.bearer, httpx_args={"transport": transport})
