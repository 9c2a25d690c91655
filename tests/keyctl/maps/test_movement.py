"""Keys by month, against a loop over every line of the register that looks at the calendar of the house."""

from collections import Counter
from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone

from keyctl.keys.models import Custody, Handover
from keyctl.maps.selectors.movement import MONTHS, lines_of_site, lines_of_system, movement_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, count_queries
from tests.keyctl.maps.drawn import texts, the_map

AUCKLAND = ZoneInfo("Pacific/Auckland")
NOW = datetime(2026, 4, 5, 12, tzinfo=UTC)  # the day on which clocks go back there (IANA)


def fill(room: KeyRoom, lines: int, seed: int = 1) -> None:
    """Lines of three years, many of them near the turn of a month."""
    rng = Random(seed)
    made = []
    for nth in range(lines):
        month = datetime(2026, 4, 1, tzinfo=AUCKLAND) - timedelta(days=30.4 * rng.randrange(0, 36))
        near = month.replace(day=1, hour=0, minute=0) + timedelta(minutes=rng.randrange(-90, 90))
        out_at = rng.choice([near, month + timedelta(hours=rng.randrange(700))])
        way = rng.choice([Handover.Way.OUT, Handover.Way.OUT, Handover.Way.TRANSFER])
        act = factories.make_handover(room.site, by=room.desk, holder=room.holder, way=way)
        line = Custody(
            copy=factories.make_copy(room.symbol, room.cabinet),
            holder=room.holder,
            handed_out_by=room.desk,
            out_act=act,
            out_at=out_at,
        )
        ending = rng.choice(["", "returned", "transferred", "lost"])
        if ending:
            line.ended_at, line.ended_by = out_at + timedelta(hours=rng.randrange(1, 3000)), room.desk
            line.ending = ending
            line.back_act = None if ending == "lost" else act
        made.append(line)
        if nth % 3 == 0:
            line.out_at = min(line.out_at, NOW)
    Custody.objects.bulk_create(made)


def counted(moments: list[datetime]) -> Counter[tuple[int, int]]:
    local = [moment.astimezone(AUCKLAND) for moment in moments]
    return Counter((each.year, each.month) for each in local)


@override_settings(TIME_ZONE="Pacific/Auckland")
def test_each_month_counts_the_lines_that_a_loop_finds(room: KeyRoom) -> None:
    fill(room, 150)
    with timezone.override(AUCKLAND):
        found = movement_of(lines_of_site(room.site), NOW.astimezone(AUCKLAND).date())
    lines = list(Custody.objects.select_related("out_act"))
    meant = [
        counted([line.out_at for line in lines if line.out_act.way == "out"]),
        counted([line.ended_at for line in lines if line.ending == "returned" and line.ended_at]),
        counted([line.ended_at for line in lines if line.ending == "lost" and line.ended_at]),
    ]
    months = [(month.year, month.month) for month in found.months]
    assert (months[0], months[-1], len(months)) == ((2024, 5), (2026, 4), MONTHS)
    for figures, loop in zip((found.issued, found.returned, found.lost), meant, strict=True):
        assert figures == [loop[month] for month in months]
        assert sum(figures) > 10


def test_a_system_counts_its_own_keys_at_sites_one_reads(room: KeyRoom, cast: Cast) -> None:
    room.held()
    today = timezone.localdate()
    system = room.symbol.system
    assert movement_of(lines_of_system(cast.desk, system), today).issued[-1] == 1
    system.sites.add(cast.south)
    assert movement_of(lines_of_system(cast.stranger, system), today).issued[-1] == 0


def test_the_picture_names_each_line_with_its_last_figure(client: Client, room: KeyRoom) -> None:
    room.take_back(room.held())
    room.held()
    client.force_login(room.desk)
    for name, pk in (("keys-of-site", room.site.pk), ("keys-of-system", room.symbol.system_id)):
        words = texts(the_map(client.get(reverse(f"maps:{name}", args=[pk]))))
        assert {"Issued 2", "Returned 1", "Lost 0", "0"} <= set(words)


def test_who_reads_the_register_reads_the_figures(cast: Cast, room: KeyRoom) -> None:
    found = answers(cast, "maps:keys-of-site", room.site.pk)
    assert found == allowed("locksmith", "desk", "officer", "auditor", "administrator")


def test_the_queries_do_not_grow_with_the_register(client: Client, room: KeyRoom) -> None:
    client.force_login(room.desk)
    page = reverse("maps:keys-of-site", args=[room.site.pk])
    client.get(page)
    few = count_queries(client, page)
    fill(room, 30)
    assert count_queries(client, page) == few
