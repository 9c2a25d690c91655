"""How full the groups of a system are, against a loop over its keys, cores and copies for each day."""

from datetime import UTC, datetime, timedelta
from random import Random

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.cores.models import Core, Keying
from keyctl.keys.models import KeyCopy
from keyctl.systems.fillings import FRAME, MOST_ROWS, draw_fillings
from keyctl.systems.groups import GroupUse, group_uses, months_of
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system, count_queries

TODAY = datetime(2026, 5, 14, tzinfo=UTC).date()


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return bare_system(cast.north, actor=cast.administrator)


def grow(system: KeySystem, cast: Cast, groups: int, keys: int, seed: int = 1) -> None:
    rng = Random(seed)
    cabinet = factories.make_cabinet(cast.north)
    top = bare_key(system, "A", kind=KeySymbol.Kind.MASTER)
    for nth in range(groups):
        master = _below(top, f"A{nth}", KeySymbol.Kind.MASTER, 1, nth)
        KeySymbol.objects.filter(pk=master.pk).update(room=rng.choice([None, keys, 3 * keys]))
        for place in range(keys):
            key = _below(master, f"A{nth}-{place}", KeySymbol.Kind.CHANGE, 2, place)
            if rng.random() < 0.5:
                core = Core.objects.create(site=cast.north, format_id="small-a2-7", construction="x")
                Keying.objects.create(core=core, symbol=key, made_at=_some_day(rng))
            if rng.random() < 0.4:
                copy = factories.make_copy(key, cabinet)
                KeyCopy.objects.filter(pk=copy.pk).update(cut_at=_some_day(rng))


def _below(parent: KeySymbol, name: str, kind: KeySymbol.Kind, level: int, ordinal: int) -> KeySymbol:
    return KeySymbol.objects.create(
        system=parent.system,
        parent=parent,
        symbol=name,
        kind=kind,
        level=level,
        ordinal=ordinal,
        bitting=b"",
        fingerprint=name,
    )


def _some_day(rng: Random) -> datetime:
    return datetime(2026, 5, 14, 12, tzinfo=UTC) - timedelta(days=rng.randrange(0, 900))


def by_hand(master: KeySymbol) -> list[int]:
    """Per month, the keys below of which a core was keyed or a copy cut before the month was over."""
    found = []
    for month in months_of(TODAY):
        after = (month + timedelta(days=31)).replace(day=1)
        moments = [
            min(
                [k.made_at.date() for k in key.keyings.all() if k.made_at]
                + [c.cut_at.date() for c in key.copies.all()]
            )
            for key in master.children.all()
            if key.keyings.exists() or key.copies.exists()
        ]
        found.append(sum(day < after for day in moments))
    return found


def test_each_group_counts_what_a_loop_finds(system: KeySystem, cast: Cast) -> None:
    grow(system, cast, groups=4, keys=9)
    found = {group.symbol: group for group in group_uses(system, TODAY)}
    masters = KeySymbol.objects.filter(system=system, level=1)
    assert set(found) == {master.symbol for master in masters}
    for master in masters:
        group = found[master.symbol]
        assert group.used == by_hand(master)
        assert (group.made, group.room) == (9, master.room)
    shares = [group.share or 0 for group in group_uses(system, TODAY)]
    assert shares == sorted(shares, reverse=True)


def test_a_frame_is_the_room_and_the_area_what_is_used() -> None:
    months = months_of(TODAY)
    full, half = GroupUse("AA", 10, 10, [10] * 24), GroupUse("AB", 10, 10, [0] * 23 + [5])
    drawn = draw_fillings([full, half] * 8, months, TODAY)
    assert len(drawn.rows) == MOST_ROWS
    assert drawn.unshown == 4
    first, second = drawn.rows[:2]
    assert f"V{first.y}H" in first.path
    assert f"V{second.y + FRAME // 2}H{drawn.right}" in second.path


def test_the_page_names_what_is_left(client: Client, system: KeySystem, cast: Cast) -> None:
    grow(system, cast, groups=1, keys=4)
    KeySymbol.objects.filter(system=system, level=1).update(room=64)
    client.force_login(cast.locksmith)
    answer = client.get(reverse("systems:capacity", args=[system.pk]))
    used = group_uses(system, timezone.localdate())[0].in_use
    page = answer.content.decode()
    assert f"{used} in use, {64 - used} left" in page
    assert page.count("<svg") >= 2


def test_the_queries_do_not_grow_with_the_system(client: Client, system: KeySystem, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    page = reverse("systems:capacity", args=[system.pk])
    grow(system, cast, groups=1, keys=2)
    client.get(page)
    few = count_queries(client, page)
    other = bare_system(cast.north, actor=cast.administrator)
    grow(other, cast, groups=14, keys=5)
    assert count_queries(client, reverse("systems:capacity", args=[other.pk])) == few
