"""Copies cut = with holders + in cabinets + lost + destroyed, whatever is done to them (the project's law).

The walk keeps a book of its own beside the services and compares both after every step.
"""

import random
from collections import Counter
from collections.abc import Callable
from uuid import UUID

import pytest
from django.utils import timezone

from keyctl.keys import services
from keyctl.keys.models import Custody, KeyCopy
from keyctl.keys.selectors import LawCount, law_breaches, law_count
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom

STEPS = 300
ALLOWED = {
    ("hand_out", "in-cabinet"): "held",
    ("take_back", "held"): "in-cabinet",
    ("take_back", "lost"): "in-cabinet",
    ("report_lost", "held"): "lost",
    ("report_lost", "in-cabinet"): "lost",
    ("destroy_copy", "in-cabinet"): "destroyed",
}


class Walk:
    def __init__(self, room: KeyRoom, seed: int) -> None:
        self.room = room
        self.chance = random.Random(seed)
        self.book: dict[UUID, str] = {}
        self.refused = 0

    def step(self) -> None:
        if not self.book or self.chance.random() < 0.12:
            return self._cut()
        act = self.chance.choice(["hand_out", "take_back", "take_back", "report_lost", "destroy_copy"])
        copy = KeyCopy.objects.get(pk=self.chance.choice(list(self.book)))
        after = ALLOWED.get((act, self.book[copy.pk]))
        if after is None:
            with pytest.raises(Refused):
                self._acts()[act](copy)
            self.refused += 1
            return None
        self._acts()[act](copy)
        self.book[copy.pk] = after
        return None

    def counted(self) -> LawCount:
        states = Counter(self.book.values())
        return LawCount(
            len(self.book), states["held"], states["in-cabinet"], states["lost"], states["destroyed"]
        )

    def _cut(self) -> None:
        copies = services.cut_copies(
            actor=self.room.desk,
            symbol=self.room.symbol,
            site=self.room.site,
            cabinet=self.room.cabinet,
            count=self.chance.randint(1, 3),
        )
        self.book.update({copy.pk: "in-cabinet" for copy in copies})

    def _acts(self) -> dict[str, Callable[[KeyCopy], object]]:
        desk, cabinet = self.room.desk, self.room.cabinet
        return {
            "hand_out": self.room.give,
            "take_back": lambda copy: services.take_back(actor=desk, copy=copy, cabinet=cabinet),
            "report_lost": lambda copy: services.report_lost(actor=desk, copy=copy),
            "destroy_copy": lambda copy: services.destroy_copy(actor=desk, copy=copy, reason="Worn out."),
        }


@pytest.mark.parametrize("seed", [1, 2])
def test_the_copies_add_up_after_every_step_of_a_random_walk(room: KeyRoom, seed: int) -> None:
    walk = Walk(room, seed)
    for _ in range(STEPS):
        walk.step()
        count = law_count(room.symbol)
        assert count == walk.counted()
        assert count.is_kept
    assert walk.refused > 20
    assert all(part > 0 for part in (count.held, count.in_cabinet, count.lost, count.destroyed))


def test_a_copy_that_nobody_signed_for_breaks_the_law(room: KeyRoom) -> None:
    copy = room.held()
    Custody.objects.filter(copy=copy).update(ended_at=timezone.now(), ended_by=room.desk, ending="lost")
    assert law_count(room.symbol) == LawCount(cut=1, held=0)
    assert law_breaches(Site.objects.all()) == {room.symbol.pk: LawCount(cut=1, held=0)}


def test_an_open_line_for_a_copy_in_the_cabinet_breaks_the_law(room: KeyRoom) -> None:
    factories.make_line(room.in_stock(), room.holder, by=room.desk)
    assert not law_count(room.symbol).is_kept


def test_ended_lines_and_other_keys_do_not_count(room: KeyRoom) -> None:
    copy = services.take_back(actor=room.desk, copy=room.held(), cabinet=room.cabinet)
    room.give(copy)
    room.in_stock()
    assert law_count(room.symbol) == LawCount(cut=2, held=1, in_cabinet=1)
    assert law_breaches(Site.objects.all()) == {}


def test_a_key_without_copies_adds_up(room: KeyRoom) -> None:
    assert law_count(room.symbol) == LawCount()
    assert factories.make_copy(room.symbol, room.cabinet).cut_at <= timezone.now()
