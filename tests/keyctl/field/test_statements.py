"""What a tablet's swap asks of the database: whoever swaps meanwhile waits for each of its statements."""

from django.db import connection
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from keyctl.cores.models import Core
from tests.keyctl.field.fieldroom import House, Tablet
from tests.keyctl.field.test_api import envelope, own, post

__all__ = ["own"]

# By the log of one request: who asks 2, what is known 4, the swap with savepoints 16, what the tablet told 2.
STATEMENTS = 24
# The housing is locked by a statement of its own, by the field app and by the exchange.
LOCKS = 2


def test_a_swap_asks_no_more_than_it_needs(
    house: House, tablet: Tablet, own: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    body = envelope(tablet, tablet.swapped(house.housing, house.spare, house.inside))
    locks = LOCKS if connection.features.has_select_for_update else 0
    with django_assert_max_num_queries(STATEMENTS + locks):
        answer = post(own, body)
    assert [each["outcome"] for each in answer.json()["answers"]] == ["applied"]
    house.spare.refresh_from_db()
    assert (house.spare.place, house.spare.housing) == (Core.Place.HOUSING, house.housing)
