"""Many append at the same time: nobody waits for another in a circle, and no number is left out."""

import threading
from typing import Any

import pytest
from django.db import close_old_connections, connection, connections, transaction

from keyctl.audit.checking import check_history
from keyctl.audit.models import Event, Head, Link
from keyctl.audit.services import record
from keyctl.places.models import Building, Floor, Site
from tests import factories

AT_ONCE = 8
EACH = 12

pytestmark = pytest.mark.django_db(transaction=True)


@transaction.atomic
def build(site: Site, name: str, *, fails: bool) -> None:
    """A service in a service, with keys to rows that others lock; deferred checks run at the end."""
    building = Building.objects.create(site_id=site.pk, code=name, name=name)
    record(actor=None, verb="building.made", sentence=f"made {name}", subjects=[building, site])
    for level in (1, 2):
        try:
            raise_floor(building, level, fails=fails and level == 2)
        except LookupError:
            continue
    # Like every service that changes a row it shares with others.
    Site.objects.select_for_update().get(pk=site.pk)
    record(actor=None, verb="site.grown", sentence=f"grew by {name}", subjects=[site])


@transaction.atomic
def raise_floor(building: Building, level: int, *, fails: bool) -> None:
    floor = Floor.objects.create(building=building, label=f"Level {level}", level=level)
    record(actor=None, verb="floor.made", sentence=f"made level {level}", subjects=[floor])
    if fails:
        raise LookupError


def test_eight_append_at_once_with_services_in_services_and_deferred_keys() -> None:
    sites = [factories.make_site(), factories.make_site()]
    troubles: list[Any] = []

    def work(nth: int) -> None:
        try:
            for turn in range(EACH):
                # Half of them take the two sites in the other order.
                for site in sites if nth % 2 else reversed(sites):
                    build(site, f"{nth}-{turn}", fails=turn % 3 == 0)
        except Exception as error:
            troubles.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work, args=(nth,)) for nth in range(AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
        assert not thread.is_alive()
    close_old_connections()
    assert troubles == []
    kept = AT_ONCE * EACH * 2 * 4 - AT_ONCE * 4 * 2
    assert Event.objects.count() == kept
    assert list(Link.objects.order_by("number").values_list("number", flat=True)) == list(range(1, kept + 1))
    assert Head.objects.get().number == kept
    assert list(check_history(bytes(32))) == []


@pytest.mark.skipif(connection.vendor == "sqlite", reason="On SQLite one writes at a time anyway")
def test_whoever_comes_second_goes_on_from_the_first() -> None:
    """The lock on the head is held to the end: a second cannot take the same place."""
    order: list[str] = []
    begun, may_end = threading.Event(), threading.Event()

    def first() -> None:
        with transaction.atomic():
            record(actor=None, verb="a.b", sentence="first")
            begun.set()
            may_end.wait(20)
        order.append("first")
        connections.close_all()

    thread = threading.Thread(target=first)
    thread.start()
    assert begun.wait(20)
    record(actor=None, verb="a.b", sentence="second")  # not held up by what has only begun
    may_end.set()
    thread.join(20)
    told = Link.objects.order_by("number").values_list("event__sentence", flat=True)
    assert list(told) == ["second", "first"]
