"""A process that has imported the product and waits; its children are servers to be killed, and errands.

To import the product takes seconds; a child of this process has it at once. This process asks no database
itself. Its orders are lines of JSON: `serve`, `kill` and `run`. When its own input ends it ends its children.
"""

import ctypes
import gc
import importlib
import json
import os
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

UNIT = Path(__file__).resolve().parents[2] / ".deploy" / "keyctl-web.service"
WANTED_SOON = (
    "tests.faults.estate",
    "tests.faults.looking_in",
    "gunicorn.app.wsgiapp",
    "gunicorn.workers.gthread",
)
# Named by a benchmark, to set the server against one whose writers do not queue.
UNGATED = "FAULTS_UNGATED"
# How SQLite waits for the disk, where that is not to be as the product has it.
SYNCHRONOUS = "FAULTS_SYNCHRONOUS"
DIES_WITH_PARENT, TAKES_ORPHANS = 1, 36  # of prctl(2)


def deployed_arguments(bind: str) -> list[str]:
    """What the unit gives to gunicorn, but for the address."""
    text = UNIT.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("ExecStart="))
    words = line.split(" -m gunicorn ")[1].split()
    words[words.index("--bind") + 1] = bind
    return words


class Nursery:
    def __init__(self) -> None:
        self.groups: set[int] = set()

    def answer(self, order: dict[str, Any]) -> Any:
        acts: dict[str, Callable[..., Any]] = {
            "serve": self._serve,
            "kill": self._kill,
            "run": self._run,
        }
        return acts[order.pop("do")](**order)

    def _serve(self, bind: str, arguments: list[str], environment: dict[str, str]) -> int:
        pid = os.fork()
        if pid == 0:
            os.setsid()
            _settle_as_child()
            os.environ.update(environment)
            if UNGATED in environment:
                _open_the_gate()
            _serve_for_ever([*deployed_arguments(bind), *arguments])
        self.groups.add(pid)
        return pid

    def _kill(self, group: int) -> None:
        """The whole group at once, and none of it left when this returns."""
        with suppress(ProcessLookupError):
            os.killpg(group, signal.SIGKILL)
        self.groups.discard(group)
        with suppress(ChildProcessError):
            while True:
                os.waitpid(-group, 0)

    def _run(self, function: str, facts: dict[str, Any]) -> Any:
        """Somebody's function in a child of its own, with what it returns."""
        readable, writable = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(readable)
            _settle_as_child()
            _run_errand(function, facts, writable)
        os.close(writable)
        with os.fdopen(readable, "rb") as said:
            text = said.read()
        os.waitpid(pid, 0)
        return json.loads(text) if text else {"failed": "The errand ended without a word."}

    def end(self) -> None:
        for group in list(self.groups):
            self._kill(group)


def _settle_as_child() -> None:
    ctypes.CDLL(None).prctl(DIES_WITH_PARENT, signal.SIGKILL)
    nowhere = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nowhere, 0)
    os.dup2(2, 1)


def _open_the_gate() -> None:
    from keyctl.lib.gated.base import DatabaseWrapper

    setattr(DatabaseWrapper, "_enter_gate", lambda _self: None)  # noqa: B010 (it is a method there)


def _serve_for_ever(arguments: list[str]) -> NoReturn:
    from gunicorn.app.wsgiapp import WSGIApplication  # type: ignore[import-untyped]

    sys.argv = ["gunicorn", *arguments]
    try:
        WSGIApplication("%(prog)s [OPTIONS] [APP_MODULE]").run()
    finally:
        os._exit(1)


def _run_errand(function: str, facts: dict[str, Any], writable: int) -> NoReturn:
    import traceback

    module, _, name = function.partition(":")
    try:
        told = {"done": getattr(importlib.import_module(module), name)(**facts)}
    except BaseException:
        told = {"failed": traceback.format_exc()}
    with os.fdopen(writable, "w") as out:
        json.dump(told, out)
    os._exit(0)


def _import_the_product() -> None:
    import django

    if SYNCHRONOUS in os.environ:
        from keyctl.lib import sqlite

        sqlite.PRAGMAS = sqlite.PRAGMAS.replace("synchronous=FULL", f"synchronous={os.environ[SYNCHRONOUS]}")
    django.setup()
    from django.template import engines
    from django.urls import resolve

    import keyctl.wsgi  # noqa: F401 (makes the application)

    resolve("/field/events/")
    engines.all()
    for module in WANTED_SOON:
        importlib.import_module(module)
    # Children share what is never looked through for garbage.
    gc.collect()
    gc.freeze()


def main() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "keyctl.settings"
    ctypes.CDLL(None).prctl(TAKES_ORPHANS, 1)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    out = os.fdopen(os.dup(1), "w", buffering=1)
    os.dup2(2, 1)
    _import_the_product()
    nursery = Nursery()
    try:
        print(json.dumps("ready"), file=out)
        for line in sys.stdin:
            print(json.dumps(nursery.answer(json.loads(line))), file=out)
    finally:
        nursery.end()


if __name__ == "__main__":
    main()
