"""Where a key copy has been, against a diary that the test itself writes down act by act.

The acts are those of the desk; the clock is turned on between them, so that each has a moment of its own.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from random import Random
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.keys import services
from keyctl.keys.law import law_count
from keyctl.keys.models import Cabinet, Custody, Holder, KeyCopy
from keyctl.lib.drawing.spans import Span
from keyctl.maps.selectors.copies import story_of_copy
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, count_queries
from tests.keyctl.maps.clock import Clock
from tests.keyctl.maps.drawn import texts, the_map


@dataclass
class Diary:
    """Acts on one copy, drawn from a seed, and where it was after each."""

    room: KeyRoom
    clock: Clock
    seed: int
    stays: list[tuple[datetime, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng = Random(self.seed)
        self.cabinets: list[Cabinet] = [factories.make_cabinet(self.room.site) for _ in range(3)]
        self.holders: list[Holder] = [factories.make_holder(self.room.site) for _ in range(3)]
        facts: dict[str, Any] = {"actor": self.room.desk, "symbol": self.room.symbol, "site": self.room.site}
        (self.copy,) = services.cut_copies(**facts, cabinet=self.cabinets[0], count=1)
        self.stays.append((self.copy.cut_at, str(self.cabinets[0])))

    def live(self, acts: int) -> None:
        for _ in range(acts):
            self.clock.now += timedelta(hours=self.rng.randrange(1, 900))
            before = self.clock.now
            where = getattr(self, f"_{KeyCopy.State(self.copy.state).name.lower()}")()
            self.copy.refresh_from_db()
            if where != self.stays[-1][1]:
                self.stays.append((before, where))

    def _in_cabinet(self) -> str:
        act = self.rng.choice(["give", "give", "give", "move", "lose"])
        if act == "move":
            others = [each for each in self.cabinets if each != self.copy.cabinet]
            return self._hung(services.move_copies, self.rng.choice(others), copies=[self.copy])
        return self._given() if act == "give" else self._lost()

    def _held(self) -> str:
        act = self.rng.choice(["back", "back", "pass", "lose"])
        if act == "pass":
            to = self.rng.choice([each for each in self.holders if each != self.copy.holder])
            signed = services.Signature(name=to.name)
            services.transfer_keys(actor=self.room.desk, copies=[self.copy], to=to, signature=signed)
            return str(to)
        return (
            self._hung(services.take_back, self.rng.choice(self.cabinets)) if act == "back" else self._lost()
        )

    def _lost(self) -> str:
        if self.copy.state == KeyCopy.State.LOST:
            return self._hung(services.take_back, self.rng.choice(self.cabinets))
        services.report_lost(actor=self.room.desk, copy=self.copy)
        return "Lost"

    def _given(self) -> str:
        holder = self.rng.choice(self.holders)
        services.hand_out(actor=self.room.desk, copy=self.copy, holder=holder, signed_as=holder.name)
        return str(holder)

    def _hung(self, act: Any, cabinet: Cabinet, **facts: Any) -> str:
        act(actor=self.room.desk, cabinet=cabinet, **(facts or {"copy": self.copy}))
        return str(cabinet)


def places(spans: list[Span]) -> list[str]:
    return [span.place for span in spans]


@pytest.mark.parametrize("seed", range(6))
def test_the_spans_are_those_of_the_diary(room: KeyRoom, clock: Clock, seed: int) -> None:
    diary = Diary(room, clock, seed)
    diary.live(18)
    spans, _ = story_of_copy(diary.copy)
    assert places(spans) == [place for _, place in diary.stays]
    for span, (at, _place) in zip(spans, diary.stays, strict=True):
        assert timedelta(0) <= span.begin - at < timedelta(seconds=1)


@pytest.mark.parametrize("seed", range(6, 10))
def test_spans_leave_no_gap_and_agree_with_the_law(room: KeyRoom, clock: Clock, seed: int) -> None:
    diary = Diary(room, clock, seed)
    diary.live(15)
    spans, _ = story_of_copy(diary.copy)
    assert spans[0].begin == diary.copy.cut_at
    assert all(a.end == b.begin and a.begin < b.begin for a, b in pairwise(spans))
    assert spans[-1].end is None
    law = law_count(room.symbol)
    last = {"solid": law.held, "plain": law.in_cabinet, "cross": law.lost, "dense": law.destroyed}
    assert last[spans[-1].look] == law.cut == 1


def test_each_line_of_the_register_is_a_span(room: KeyRoom, clock: Clock) -> None:
    diary = Diary(room, clock, 11)
    diary.live(25)
    spans, _ = story_of_copy(diary.copy)
    held = [(span.place, span.begin) for span in spans if span.look == "solid"]
    lines = Custody.objects.filter(copy=diary.copy).order_by("out_at")
    assert held == [(str(line.holder), line.out_at) for line in lines]


def test_a_destroyed_copy_ends_so_and_a_broken_one_is_marked(room: KeyRoom, clock: Clock) -> None:
    diary = Diary(room, clock, 1)
    clock.now += timedelta(days=3)
    services.report_broken(actor=room.desk, copy=diary.copy, note="Bent")
    clock.now += timedelta(days=1)
    services.destroy_copy(actor=room.desk, copy=KeyCopy.objects.get(), reason="Bent")
    spans, marks = story_of_copy(KeyCopy.objects.get())
    assert places(spans) == [str(diary.cabinets[0]), "Destroyed"]
    assert [mark.words for mark in marks] == ["Reported broken"]


def test_what_was_written_past_the_services_shows_where_the_copy_is(room: KeyRoom) -> None:
    copy = room.in_stock()
    assert places(story_of_copy(copy)[0]) == [str(room.cabinet)]
    KeyCopy.objects.update(state="destroyed", cabinet=None)
    assert places(story_of_copy(KeyCopy.objects.get())[0]) == ["Destroyed"]


def test_a_name_that_was_taken_out_is_not_in_the_picture(client: Client, room: KeyRoom) -> None:
    copy = room.held()
    Holder.objects.filter(pk=room.holder.pk).update(name="Name removed")
    client.force_login(room.desk)
    answer = client.get(reverse("maps:copy", args=[copy.pk]))
    assert "Name removed" in texts(the_map(answer))
    assert room.holder.name not in texts(the_map(answer))


def test_two_holders_of_one_name_have_a_row_each(room: KeyRoom) -> None:
    copy = room.held()
    room.take_back(copy)
    room.give(KeyCopy.objects.get(), factories.make_holder(room.site, name=room.holder.name))
    held = [span for span in story_of_copy(KeyCopy.objects.get())[0] if span.look == "solid"]
    assert len({span.place for span in held}) == 1
    assert len({span.row for span in held}) == 2


def test_who_reads_the_register_reads_the_picture(cast: Cast, room: KeyRoom) -> None:
    found = answers(cast, "maps:copy", room.held().pk)
    assert found == allowed("locksmith", "desk", "officer", "auditor", "administrator")


def test_the_queries_do_not_grow_with_the_story(client: Client, room: KeyRoom, clock: Clock) -> None:
    diary = Diary(room, clock, 3)
    diary.live(2)
    client.force_login(room.desk)
    page = reverse("maps:copy", args=[diary.copy.pk])
    client.get(page)
    few = count_queries(client, page)
    diary.live(20)
    client.force_login(room.desk)  # months went by
    assert count_queries(client, page) == few
