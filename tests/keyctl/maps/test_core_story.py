"""Where a core has been, against a diary that the test itself writes down act by act."""

from datetime import timedelta
from itertools import pairwise
from random import Random
from typing import Any
from unittest.mock import patch

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.services import new_event
from keyctl.cores.models import Core
from keyctl.cores.services import exchange_core, move_core, register_core
from keyctl.maps.selectors.cores import story_of_core
from keyctl.places.models import Housing
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system, count_queries
from tests.keyctl.maps.clock import Clock
from tests.keyctl.maps.drawn import texts, the_map

OUT = {"shelf": "On the shelf", "bench": "On the bench", "case": "In the case of Locksmith"}


class Diary:
    """A core and another to swap it with, moved about from a seed."""

    def __init__(self, cast: Cast, clock: Clock, seed: int) -> None:
        self.cast, self.clock, self.rng = cast, clock, Random(seed)
        system = bare_system(cast.north, actor=cast.administrator)
        key: KeySymbol = bare_key(system, "AA1")
        facts: dict[str, Any] = {
            "actor": cast.locksmith,
            "site": cast.north,
            "system": system,
            "symbols": [key],
        }
        self.core, self.other, self.third = (register_core(**facts) for _ in range(3))
        Core.objects.update(pinning=b"x", pinned_at=clock.now, pinned_by=cast.locksmith)
        self.housings = [factories.make_housing(cast.north) for _ in range(2)]
        self.stays = [(clock.now, "On the bench")]

    def live(self, acts: int) -> None:
        for _ in range(acts):
            self.clock.now += timedelta(hours=self.rng.randrange(1, 500))
            before = self.clock.now
            where = self._out() if self._fresh().housing else self._in_or_about()
            if where != self.stays[-1][1]:
                self.stays.append((before, where))

    def _fresh(self) -> Core:
        self.core, self.other = Core.objects.get(pk=self.core.pk), Core.objects.get(pk=self.other.pk)
        return self.core

    def _swap(self, housing: Housing, core: Core, put_at: str) -> None:
        there = Core.objects.filter(housing=housing).first()
        exchange_core(
            actor=self.cast.locksmith,
            housing=housing,
            core_in=core,
            core_in_version=core.version,
            core_out_id=there.pk if there else None,
            put_at=put_at,
        )

    def _out(self) -> str:
        assert self.core.housing
        put_at = self.rng.choice(list(OUT))
        if self.other.housing:
            spare = Core.objects.get(pk=self.third.pk)
            self._swap(self.core.housing, spare, put_at)
        else:
            self._swap(self.core.housing, self.other, put_at)
        return OUT[put_at]

    def _in_or_about(self) -> str:
        if self.rng.random() < 0.4:
            place = self.rng.choice(list(OUT))
            move_core(actor=self.cast.locksmith, core=self.core, version=self.core.version, place=place)
            return OUT[place]
        housing = self.rng.choice(self.housings)
        self._swap(housing, self.core, self.rng.choice(list(OUT)))
        return str(housing)


def meant(diary: Diary) -> list[str]:
    return [place for _, place in diary.stays]


@pytest.mark.parametrize("seed", range(6))
def test_the_spans_are_those_of_the_diary(cast: Cast, clock: Clock, seed: int) -> None:
    diary = Diary(cast, clock, seed)
    diary.live(20)
    spans, _ = story_of_core(cast.locksmith, diary._fresh())
    assert [span.place for span in spans] == meant(diary)
    for span, (at, _place) in zip(spans, diary.stays, strict=True):
        assert timedelta(seconds=-1) < span.begin - at < timedelta(seconds=1)
    assert all(a.end == b.begin and a.begin < b.begin for a, b in pairwise(spans))
    assert spans[-1].end is None


@pytest.mark.parametrize("seed", range(3))
def test_acts_of_before_tell_in_which_door_it_was_and_when(cast: Cast, clock: Clock, seed: int) -> None:
    """Events once said neither which core went in nor where the other was put."""
    with patch("keyctl.audit.services.new_event", lambda **facts: new_event(**facts | {"detail": {}})):
        diary = Diary(cast, clock, seed)
        diary.live(20)
    core = diary._fresh()
    spans, _ = story_of_core(cast.locksmith, core)
    doors = {str(housing): str(housing.door) for housing in diary.housings}
    inside = [doors.get(place, "") for place in meant(diary)]
    shown = [next((door for door in doors.values() if span.place.startswith(door)), "") for span in spans]
    assert _without_repeats(shown) == _without_repeats(inside)


def _without_repeats(words: list[str]) -> list[str]:
    return [word for nth, word in enumerate(words) if nth == 0 or words[nth - 1] != word]


def test_pinnings_are_marked(client: Client, cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    _spans, marks = story_of_core(cast.auditor, core)
    assert [mark.words for mark in marks] == ["Pinned"]
    client.force_login(cast.auditor)
    drawn = the_map(client.get(reverse("maps:core", args=[core.pk])))
    assert "On the bench" in texts(drawn)


def test_a_core_without_history_says_so(client: Client, cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, format_id="small-a2-7", construction="small-format")
    client.force_login(cast.desk)
    answer = client.get(reverse("maps:core", args=[core.pk]))
    assert "History does not tell where it has been" in answer.content.decode()


def test_a_foreign_core_is_not_found(client: Client, cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, format_id="small-a2-7", construction="small-format")
    client.force_login(cast.stranger)
    assert client.get(reverse("maps:core", args=[core.pk])).status_code == 404


def test_the_queries_do_not_grow_with_the_story(client: Client, cast: Cast, clock: Clock) -> None:
    diary = Diary(cast, clock, 3)
    diary.live(4)
    client.force_login(cast.locksmith)
    page = reverse("maps:core", args=[diary.core.pk])
    client.get(page)
    few = count_queries(client, page)
    diary.live(16)
    client.force_login(cast.locksmith)  # months went by
    assert count_queries(client, page) == few
