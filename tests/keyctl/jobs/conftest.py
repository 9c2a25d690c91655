"""Work that counts, stops and fails as a test asks."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from keyctl.jobs import kinds
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.places.roles import STAFF
from tests.cast import Cast

SECRET = "361492"

Begin = Callable[..., Job]


def count_up(running: Running) -> dict[str, Any]:
    """Counts from the checkpoint to `upto`; what happens at `trouble_at` is the test's own."""
    first, last = running.checkpoint.get("done", 0), running.parameters["upto"]
    for number in range(first, last):
        running.step(number, last, f"number {number}")
        running.save({"done": number + 1})
        _trouble(running, number)
    if "file" in running.parameters:
        running.attach("list.txt", "text/plain", running.parameters["file"].encode())
    return {"sentence": f"Counted to {last}.", "counted": last}


troubles: dict[int, Callable[[Running], None]] = {}


def _trouble(running: Running, number: int) -> None:
    if happens := troubles.pop(number, None):
        happens(running)


@pytest.fixture(autouse=True)
def kind(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(kinds, "_kinds", dict(kinds._kinds))
    kinds.register_kind("count", "Count up", count_up)
    kinds.register_kind("count-openly", "Count openly", count_up, file_roles=STAFF)
    yield
    troubles.clear()


@pytest.fixture
def begin(cast: Cast) -> Begin:
    def begin(upto: int = 5, **facts: Any) -> Job:
        parameters = {"upto": upto, **facts.pop("parameters", {})}
        facts = {"actor": cast.locksmith, "site": cast.north, "kind": "count", **facts}
        return start_job(parameters=parameters, **facts)

    return begin
