"""The tree of 20,000 keys: every view of it asks the database a bounded number of times, for one page."""

from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.cast import Cast

MOST_QUERIES = 27
BLOCKS, CHANGES = 20, 1_000


@pytest.fixture
def large(cast: Cast) -> KeySystem:
    """Twenty masters with a thousand changes each; what is sealed in them does not matter here."""
    system = factories.make_system(cast.north, actor=cast.locksmith, levels=(((1, 2), 2), ((3, 4), 2)))
    top = system.symbols.get(level=0)
    masters = [new_key(top, "master", f"M{block}", 100 + block) for block in range(BLOCKS)]
    KeySymbol.objects.bulk_create(masters)
    KeySymbol.objects.bulk_create(
        (
            new_key(master, "change", f"{master.symbol}-{number}", number)
            for master in masters
            for number in range(CHANGES)
        ),
        batch_size=2000,
    )
    with connection.cursor() as cursor:
        # A database does so by itself once rows are committed; in a test they never are, and it would plan
        # for an empty table.
        cursor.execute("ANALYZE")
    return system


def new_key(parent: KeySymbol, kind: str, name: str, ordinal: int) -> KeySymbol:
    return KeySymbol(
        system=parent.system,
        parent=parent,
        kind=kind,
        symbol=name,
        level=(parent.level or 0) + 1,
        ordinal=ordinal,
        bitting=b"sealed",
        fingerprint=name,
    )


def addresses(system: KeySystem) -> Iterator[str]:
    here = f"/systems/{system.pk}/"
    yield from (
        here,
        f"{here}?q=m1",
        f"{here}?show=unused",
        f"{here}?show=unused&page=150",
        f"{here}?level=2&page=200",
        f"{here}capacity/",
    )
    yield f"/systems/keys/{system.symbols.get(symbol='M7').pk}/below/?page=10"
    yield f"/systems/keys/{system.symbols.get(level=0).pk}/below/"


def test_every_view_asks_a_bounded_number_of_times(client: Client, cast: Cast, large: KeySystem) -> None:
    client.force_login(cast.locksmith)
    assert large.symbols.count() > 20_000
    counts = {}
    for address in addresses(large):
        with CaptureQueriesContext(connection) as captured:
            page = client.get(address)
        assert page.status_code == 200
        assert len(page.content) < 120_000
        counts[address] = len(captured)
    assert max(counts.values()) <= MOST_QUERIES, counts


def test_a_page_far_in_is_reached_by_its_number(client: Client, cast: Cast, large: KeySystem) -> None:
    client.force_login(cast.auditor)
    page = client.get(f"/systems/{large.pk}/", {"level": "2", "page": "200"}).context["page"]
    assert (page.number, len(page)) == (200, 100)
    assert "Go to page, 1 to" in client.get(f"/systems/{large.pk}/?level=2").content.decode()


@pytest.mark.parametrize(
    ("show", "expected"), [("cores", {"AA1"}), ("copies", {"AB1"}), ("unused", {"AA2", "AB2"})]
)
def test_keys_are_sifted_by_what_is_done_with_them(
    client: Client, cast: Cast, show: str, expected: set[str]
) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    key = factories.symbol(system, "AA1")
    factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key], pinned=False)
    factories.make_copy(factories.symbol(system, "AB1"), factories.make_cabinet(cast.north))
    client.force_login(cast.auditor)
    page = client.get(f"/systems/{system.pk}/", {"show": show, "level": "2"}).context["page"]
    assert {str(key) for key in page} == expected


def test_a_sieve_that_makes_no_sense_is_left_out(client: Client, cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    client.force_login(cast.auditor)
    for asked in ({"level": "9"}, {"level": "x"}, {"show": "nothing"}, {"page": "x"}):
        answer = client.get(f"/systems/{system.pk}/", asked)
        assert answer.context["first"] is not None
