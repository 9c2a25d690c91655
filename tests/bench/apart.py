"""A campus in a process and a database of its own, which is asked over a line."""

import multiprocessing
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Self


class Campus:
    """``serve`` builds it in the process, and answers what comes until None comes."""

    def __init__(self, serve: Callable[[Connection, int], None], doors: int) -> None:
        context = multiprocessing.get_context("spawn")
        self.doors = doors
        self.line, far_end = context.Pipe()
        # No daemon: it may have a database to remove.
        self.process = context.Process(target=serve, args=(far_end, doors))
        self.process.start()
        far_end.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_fault: object) -> None:
        # It may have been told already.
        with suppress(BrokenPipeError):
            self.line.send(None)
        self.process.join(60)
        if self.process.is_alive():
            self.process.kill()

    def heard(self) -> Any:
        return self.line.recv()

    def asked(self, question: Any) -> Any:
        self.line.send(question)
        return self.line.recv()
