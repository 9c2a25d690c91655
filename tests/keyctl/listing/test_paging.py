"""A page whose rows alone are read whole shows what Django's own paginator shows."""

import pytest
from django.core.paginator import Paginator
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.keys.models import Holder
from keyctl.listing.paging import LeanPaginator
from tests import factories


@pytest.mark.django_db
@pytest.mark.parametrize("number", [None, "1", "2", "3", "9", "none"])
def test_pages_are_those_of_the_ordinary_paginator(number: str | None) -> None:
    site = factories.make_site()
    for nth in range(7):
        factories.make_holder(site, name=f"Same {nth % 2}")
    rows = Holder.objects.select_related("site").order_by("-name", "pk")
    ordinary = Paginator(rows, 3).get_page(number)
    wanted = list(ordinary)
    with CaptureQueriesContext(connection) as queries:
        lean = LeanPaginator(rows, 3).get_page(number)
        assert (list(lean), lean.number) == (wanted, ordinary.number)
        assert lean.has_next() == ordinary.has_next()
    [counted, read] = [query["sql"] for query in queries if "keys_holder" in query["sql"]]
    assert "COUNT" in counted
    assert "LIMIT" in read.split("IN (SELECT", 1)[1]
