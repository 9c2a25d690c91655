"""Several acts begun in the same moment, each on a thread and a connection of its own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from django.db import connection

from keyctl.lib.errors import Refused


def at_once(*acts: Callable[[], Any], refusal: type[Refused] = Refused) -> list[Any]:
    """What each act returned or was refused with; anything else that one raises is raised here."""
    start = Barrier(len(acts))

    def run(act: Callable[[], Any]) -> Any:
        try:
            start.wait()
            return act()
        except refusal as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))
