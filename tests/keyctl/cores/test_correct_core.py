"""A new core that was keyed to the wrong key: put right on its page, before anything was done with it."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.services import correct_core, pin_core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services as orders
from tests.cast import Cast
from tests.factories import change_key, make_core, make_system


@pytest.fixture
def core(cast: Cast) -> Core:
    system = make_system(cast.north, actor=cast.locksmith)
    return make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)


def other(core: Core) -> dict[str, Any]:
    """Its system's second change key instead of the first."""
    assert core.system
    return {"system": core.system, "symbols": [change_key(core.system, 1)], "version": core.version}


def address(core: Core) -> str:
    return reverse("cores:correct", args=[core.pk])


def test_it_is_put_right_on_its_page(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert core.system
    wanted = change_key(core.system, 1)
    page = client.get(reverse("cores:detail", args=[core.pk]))
    assert address(core) in page.content.decode()
    sent = {"system": core.system.pk, "names": str(wanted), "version": core.version}
    assert client.post(address(core), sent).status_code == 302
    assert list(core.keyed_to.all()) == [wanted]
    event = history_of(core)[0]
    assert (event.verb, event.detail["after"]["keyed_to"]) == ("core.corrected", [str(wanted)])


def test_a_key_that_is_not_there_is_told_and_nothing_changes(client: Client, cast: Cast, core: Core) -> None:
    client.force_login(cast.locksmith)
    assert core.system
    before = list(core.keyed_to.all())
    sent = {"system": core.system.pk, "names": "NOBODY", "version": core.version}
    answer = client.post(address(core), sent)
    assert answer.status_code == 422
    assert b"NOBODY" in answer.content
    assert list(core.keyed_to.all()) == before


def test_pins_end_it_and_the_page_offers_it_no_more(client: Client, cast: Cast, core: Core) -> None:
    pinned = pin_core(actor=cast.locksmith, core=core, version=core.version)
    with pytest.raises(Refused, match="holds pins"):
        correct_core(actor=cast.locksmith, core=pinned, **other(pinned))
    client.force_login(cast.locksmith)
    page = client.get(reverse("cores:detail", args=[core.pk]))
    assert address(core) not in page.content.decode()


def test_work_that_counts_on_it_ends_it(cast: Cast, core: Core) -> None:
    orders.open_pin_order(actor=cast.locksmith, site=cast.north, title="New", cores=[core])
    with pytest.raises(Refused, match="1 order line"):
        correct_core(actor=cast.locksmith, core=core, **other(core))


def test_whoever_looked_at_an_older_state_looks_again(cast: Cast, core: Core) -> None:
    facts = other(core)
    correct_core(actor=cast.locksmith, core=core, **facts)
    with pytest.raises(Conflict):
        correct_core(actor=cast.locksmith, core=core, **facts)


def test_only_locksmiths_and_programs_do_it(cast: Cast, core: Core) -> None:
    for person in (cast.administrator, cast.officer, cast.desk, cast.auditor):
        with pytest.raises(PermissionDenied):
            correct_core(actor=person, core=core, **other(core))


def test_another_format_wants_another_core(cast: Cast, core: Core) -> None:
    system = make_system(
        cast.north, actor=cast.locksmith, format_id="small-a3-6", levels=(((1, 2), 2), ((3,), 2))
    )
    facts: dict[str, Any] = {"symbols": [change_key(system)], "version": core.version}
    with pytest.raises(Refused, match="another format"):
        correct_core(actor=cast.locksmith, core=core, system=system, **facts)
