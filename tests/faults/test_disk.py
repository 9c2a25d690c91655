"""No room, files that cannot be written, a disk that breaks: a clear answer, reads go on, nothing is lost."""

import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from tests.faults.disk import can_mount, put_on_small_disk
from tests.faults.hands import Hand, NotTaken, Spot, Tablet, hands_of
from tests.faults.serving import Ground, folder_on_disk

pytestmark = pytest.mark.skipif(
    bool(os.environ.get("KEYCTL_DATABASE_URL")), reason="has databases of its own; tried on SQLite"
)
needs_mounts = pytest.mark.skipif(not can_mount(), reason="this machine lets nobody mount a disk of his own")

SIZE = {"tablets": 2, "doors": 2, "spares": 2, "benches": 1, "migrated": False}
MOST_TRIES = 400


@pytest.fixture(scope="module")
def ground() -> Iterator[Ground]:
    with folder_on_disk() as folder:
        made = Ground(folder)
        if can_mount():
            put_on_small_disk(made)
        with made:
            yield made


@pytest.fixture(scope="module")
def hands(ground: Ground) -> list[Hand]:
    estate = ground.run("estate:make", **SIZE)
    ground.serve()
    hands = hands_of(estate, ground.port, seed=1)
    for hand in hands:
        hand.line.hang_up()
        hand.line.is_kept_open = False
    work(hands)
    return hands


def work(hands: list[Hand], times: int = 5) -> None:
    for hand in hands:
        for _ in range(times):
            hand.act()


def refused(act: Callable[[], None]) -> NotTaken:
    """What is answered when the disk has no more to give; until then it may still find room in its files."""
    for _ in range(MOST_TRIES):
        try:
            act()
        except NotTaken as answer:
            return answer
    raise AssertionError("nothing was ever refused")


def compare(ground: Ground, hands: list[Hand]) -> dict[str, Spot]:
    """All and only what was answered is there, and the file is whole."""
    seen = ground.run("looking_in:seen", database=str(ground.database))
    assert seen["faults"] == []
    there: dict[str, Spot] = {tag: (spot, version) for tag, (spot, version) in seen["spots"].items()}
    assert there == {tag: spot for hand in hands for tag, spot in hand.spots.items()}
    return there


def read_pages(hands: list[Hand]) -> None:
    for hand in hands:
        for path in ("/estate/", "/field/state/", "/health/live"):
            assert hand.line.ask("GET", path)[0] == 200


def tell_of(answer: NotTaken, status: int, words: str) -> None:
    assert answer.status == status
    assert words in answer.text
    assert "Traceback" not in answer.text


def go_on(ground: Ground, hands: list[Hand], there: dict[str, Spot]) -> None:
    """What was refused is sent once more and taken, and work goes on."""
    for hand in hands:
        hand.take_up(there)
    work(hands)
    compare(ground, hands)
    for hand in hands:
        hand.repeat_everything()
    assert ground.run("looking_in:history") == []


@needs_mounts
def test_a_full_disk_is_told_and_loses_nothing(ground: Ground, hands: list[Hand]) -> None:
    ballast = str(ground.data / "ballast")
    ground.run("disk:fill", ballast=ballast)
    for hand in hands:
        answer = refused(hand.act)
        tell_of(answer, 507, "makes room on it")
    read_pages(hands)
    there = compare(ground, hands)
    ground.run("disk:empty", ballast=ballast)
    go_on(ground, hands, there)


def test_files_that_cannot_be_written_are_told_and_read(ground: Ground, hands: list[Hand]) -> None:
    with unwritable(ground, hands):
        for hand in hands:
            tell_of(refused(hand.act), 503, "can be read and not written")
        read_pages(hands)
        tablet = next(hand for hand in hands if isinstance(hand, Tablet))
        with pytest.raises(NotTaken) as answer:
            tablet.send(tablet.told)
        # RFC 9457: what a program is told.
        told = json.loads(answer.value.text)
        assert (set(told), told["status"]) == ({"type", "title", "status", "detail"}, 503)
    go_on(ground, hands, compare(ground, hands))


@contextmanager
def unwritable(ground: Ground, hands: list[Hand]) -> Iterator[None]:
    """As after somebody copied it there as another user; the server starts and finds it so."""
    file = str(ground.database)
    ground.kill()
    ground.run("disk:make_unwritable", file=file, is_so=True)
    try:
        start_again(ground, hands)
        yield
    finally:
        ground.run("disk:make_unwritable", file=file, is_so=False)


def start_again(ground: Ground, hands: list[Hand]) -> None:
    ground.serve()
    for hand in hands:
        hand.line.greet()


@needs_mounts
def test_a_disk_that_breaks_is_told_and_loses_nothing(ground: Ground, hands: list[Hand]) -> None:
    """The kernel lets nobody write any more; after a look at the disk and a start everything is there."""
    work(hands)
    ground.run("disk:break_disk", data=str(ground.data))
    for hand in hands:
        answer = refused(hand.act)
        assert answer.status == 503
        assert "Whoever runs keyctl" in answer.text
    ground.kill()
    ground.run("disk:mend_disk", image=str(ground.folder / "disk"), data=str(ground.data))
    start_again(ground, hands)
    go_on(ground, hands, compare(ground, hands))
