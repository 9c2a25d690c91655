"""Rows a page at a time, while others write and whoever reads writes too."""

from collections.abc import Callable, Iterator
from threading import Thread

import pytest
from django.db import connection
from django.db.models import QuerySet

from keyctl.lib.paging import as_ordered, by_identifier
from keyctl.places.models import Site

CODES = [f"P{number}" for number in range(7)]
Paging = Callable[[QuerySet[Site], int], Iterator[Site]]
SIZES = [1, 2, 3, 7, 8]


@pytest.fixture
def sites(db: None) -> list[Site]:
    return Site.objects.bulk_create([Site(code=code, name=f"Site {code}") for code in CODES])


@pytest.mark.parametrize("size", SIZES)
def test_every_row_comes_once_in_order_of_its_identifier(sites: list[Site], size: int) -> None:
    backwards = Site.objects.filter(code__startswith="P").order_by("-code")
    assert list(by_identifier(backwards, size)) == sorted(sites, key=lambda site: site.pk)


@pytest.mark.parametrize("size", SIZES)
def test_every_row_comes_once_in_the_order_that_was_asked_for(sites: list[Site], size: int) -> None:
    backwards = Site.objects.filter(code__startswith="P").order_by("-code")
    assert [site.code for site in as_ordered(backwards, size)] == CODES[::-1]


def test_what_was_added_behind_the_page_still_comes_by_identifier(sites: list[Site]) -> None:
    seen: list[str] = []
    for site in by_identifier(Site.objects.all(), 2):
        if not seen:
            Site.objects.create(code="LAST", name="Made meanwhile")
        seen.append(site.code)
    assert sorted(seen) == sorted([*CODES, "LAST"])


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("paging", [by_identifier, as_ordered])
def test_whoever_reads_may_write_after_another_wrote(paging: Paging) -> None:
    """With `iterator` SQLite says that the database is locked, at once."""
    Site.objects.bulk_create([Site(code=code, name="Site") for code in [*CODES, "LAST"]])
    for number, site in enumerate(paging(Site.objects.all(), 2)):
        other = Thread(target=_rename, args=("LAST", f"by another {number}"))
        other.start()
        other.join()
        Site.objects.filter(pk=site.pk).exclude(code="LAST").update(name="read")
    assert Site.objects.get(code="LAST").name == f"by another {len(CODES)}"
    assert Site.objects.filter(name="read").count() == len(CODES)


def _rename(code: str, name: str) -> None:
    Site.objects.filter(code=code).update(name=name)
    connection.close()
