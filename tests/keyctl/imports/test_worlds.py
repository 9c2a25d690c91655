"""Tables drawn at random against estates drawn at random, with a model of our own as the referee.

The model below is written for this test: dictionaries that a row is laid over. What the dry run promises,
what taking leaves and what the model says must be the same; and after an undo nothing may have happened.
"""

import random
from collections.abc import Iterator
from typing import Any

import pytest

from keyctl.imports.models import Change, Import
from keyctl.imports.services import start_taking, taking
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import resume_job
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.imports.dump import by_number, estate
from tests.keyctl.imports.files import kept, take, tried, undone

pytestmark = pytest.mark.django_db

HEADER = ["Building", "Floor", "Number", "Room", "Class", "Egress", "Locks", "Spaces", "Hardware set"]
LOCKS = ["", "mortise", "rim", "mortise, padlock: hasp", "lever: inner"]
World = dict[str, dict[str, Any]]


def draw(rng: random.Random) -> list[list[str]]:
    """A table in which no door stands twice; some doors stand in the table before, too."""
    wanted = rng.randint(1, 14)
    doors: dict[tuple[str, str, str], list[str]] = {}
    while len(doors) < wanted:
        place = (rng.choice("AB"), f"Level {rng.randint(1, 2)}", str(rng.randint(1, 12)))
        doors[place] = [
            *place,
            rng.choice(["", "Office", "Store"]),
            rng.choice(["", "ordinary", "restricted", "Critical"]),
            rng.choice(["", "yes", "no"]),
            rng.choice(LOCKS),
            rng.choice(["", "S1", "S1, S2", "S2;S3"]),
            rng.choice(["", "HW-1", "HW-2"]),
        ]
    return list(doors.values())


def lay_over(world: World, row: list[str]) -> str:
    """What the row does to the world: new, changed (the door itself) or same."""
    building, floor, number, room, kind, egress, locks, spaces, hardware = row
    key = f"{building}/{floor}/{number}"
    before = world.get(key)
    door = dict(
        before or {"room": "", "kind": "ordinary", "egress": False, "hw": "", "spaces": [], "locks": set()}
    )
    if room:
        door["room"] = room
    if kind:
        door["kind"] = kind.lower()
    if egress:
        door["egress"] = egress == "yes"
    if hardware:
        door["hw"] = hardware
    if spaces:
        door["spaces"] = sorted(spaces.replace(";", ",").replace(" ", "").split(","))
    facts = {name: value for name, value in door.items() if name != "locks"}
    is_changed = before is not None and facts != {name: before[name] for name in facts}
    named = {tuple(part.strip() for part in f"{lock}:".split(":")[:2]) for lock in locks.split(",") if lock}
    door["locks"] = set(door["locks"]) | named
    world[key] = door
    return "created" if before is None else "updated" if is_changed else "unchanged"


def as_told(world: World) -> dict[str, tuple[Any, ...]]:
    return {
        key: (
            door["room"],
            door["kind"],
            door["egress"],
            False,
            door["hw"],
            door["spaces"],
            sorted((kind, label, "small-format") for kind, label in door["locks"]),
            [],
        )
        for key, door in world.items()
    }


def laid(world: World, rows: list[list[str]]) -> dict[str, int]:
    acts = [lay_over(world, row) for row in rows]
    return {"read": len(rows)} | {name: acts.count(name) for name in ("created", "updated", "unchanged")}


@pytest.mark.parametrize("seed", range(4))
def test_what_is_promised_is_what_is_taken_and_an_undo_leaves_nothing(cast: Cast, seed: int) -> None:
    rng, world, actor = random.Random(seed), World(), cast.administrator
    for _ in range(2):
        rows, before = draw(rng), estate()
        expected = laid(world, rows)
        imported = tried(actor, cast.north, rows, header=HEADER)
        assert imported.counts["things"]["doors"] == expected
        assert estate() == before
        if not Change.objects.filter(imported=imported).exists():
            continue
        imported = take(actor, imported)
        promised = imported.counts["things"]
        assert {
            thing: {name: figures[name] for name in ("created", "updated")}
            for thing, figures in promised.items()
        } == imported.counts["taken"]
        assert by_number() == as_told(world)
        after = estate()
        undone(actor, imported)
        assert (kept(imported), estate()) == ([], before)
        again = take(actor, tried(actor, cast.north, rows, header=HEADER))
        assert by_number() == as_told(world)
        assert again.counts["taken"] == imported.counts["taken"]
        assert {table: len(rows) for table, rows in estate().items()} == {
            table: len(rows) for table, rows in after.items()
        }


class Killed(BaseException):
    """As a kill: nothing catches it, nothing is tidied up."""


@pytest.fixture
def small_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(taking, "BATCH", 3)


def killed_after(monkeypatch: pytest.MonkeyPatch, steps: int) -> Iterator[None]:
    calls = iter(range(steps))
    whole = Running.step

    def step(self: Running, *args: Any) -> None:
        if next(calls, None) is None:
            raise Killed
        whole(self, *args)

    with monkeypatch.context() as patched:
        patched.setattr(Running, "step", step)
        yield


def back_in_queue(job: Job) -> Job:
    """As the reaper does with the job of a worker that died; then somebody goes on with it."""
    Job.objects.filter(pk=job.pk).update(state=Job.State.WAITING, run=None)
    return Job.objects.get(pk=job.pk)


@pytest.mark.parametrize("steps", [0, 1, 2, 4])
@pytest.mark.usefixtures("small_batches")
def test_a_job_killed_between_batches_goes_on_where_it_was(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, steps: int
) -> None:
    rows, world = draw(random.Random(99)), World()
    laid(world, rows)
    imported = tried(cast.administrator, cast.north, rows, header=HEADER)
    job = start_taking(
        actor=cast.administrator, imported=imported, version=imported.version, digest=imported.digest
    )
    for _ in killed_after(monkeypatch, steps):
        with pytest.raises(Killed):
            finish(job)
    written = Change.objects.filter(imported=imported, state="taken").count()
    assert written == min(steps * 3, Change.objects.filter(imported=imported).count())
    assert finish(back_in_queue(job)).state == Job.State.DONE
    assert by_number() == as_told(world)
    assert not Change.objects.filter(imported=imported).exclude(state="taken").exists()


@pytest.mark.usefixtures("small_batches")
def test_an_undo_that_was_killed_goes_on_too(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    from keyctl.imports.services import start_undoing

    before = estate()
    imported = take(
        cast.administrator, tried(cast.administrator, cast.north, draw(random.Random(5)), header=HEADER)
    )
    job = start_undoing(actor=cast.administrator, imported=imported, version=imported.version)
    for _ in killed_after(monkeypatch, 2):
        with pytest.raises(Killed):
            finish(job)
    assert estate() != before
    assert finish(back_in_queue(job)).state == Job.State.DONE
    assert estate() == before


@pytest.mark.usefixtures("small_batches")
def test_what_was_stopped_halfway_can_be_undone_or_gone_on_with(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = estate()
    imported = tried(cast.administrator, cast.north, draw(random.Random(5)), header=HEADER)
    job = start_taking(
        actor=cast.administrator, imported=imported, version=imported.version, digest=imported.digest
    )
    for _ in killed_after(monkeypatch, 2):
        with pytest.raises(Killed):
            finish(job)
    Job.objects.filter(pk=job.pk).update(state=Job.State.STOPPED, run=None, ended_at=job.asked_at)
    undone(cast.administrator, Import.objects.get(pk=imported.pk))
    assert estate() == before
    with pytest.raises(AssertionError, match="given up or undone"):
        _go_on(cast, job)


def _go_on(cast: Cast, job: Job) -> None:
    from tests.keyctl.imports.files import failure

    resumed = finish(resume_job(actor=cast.administrator, job=Job.objects.get(pk=job.pk)))
    assert resumed.state == Job.State.DONE, failure(resumed)
