"""The blank table: who writes it, what it refuses, and that stored turns follow it."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.cores import keyways
from keyctl.cores.models import Core, Turn
from keyctl.cores.proof import prove_estate
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.formats.keyways import add_keyway_fit, remove_keyway_fit
from keyctl.formats.models import KeywayFit
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast


@pytest.fixture
def own(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator, keyway="WIDE")


@pytest.fixture
def other(cast: Cast) -> KeySystem:
    """Drawn from the same seed: the same bittings on another blank, which turn if they enter."""
    return factories.make_system(cast.north, actor=cast.administrator, keyway="THIN")


@pytest.fixture
def core(cast: Cast, own: KeySystem) -> Core:
    return factories.make_core(actor=cast.locksmith, site=cast.north, system=own)


def fit(cast: Cast, blank: str = "THIN", core: str = "WIDE", reason: str = "Tried at the bench") -> KeywayFit:
    return add_keyway_fit(actor=cast.locksmith, blank_keyway=blank, core_keyway=core, reason=reason)


def turning(core: Core, system: KeySystem) -> set[str]:
    found = Turn.objects.filter(core=core, symbol__system=system, operates=True)
    return set(found.values_list("symbol__symbol", flat=True))


def one_by_one(core: Core, system: KeySystem) -> set[str]:
    pinned = pins_of(core)
    return {
        symbol.symbol
        for symbol in system.symbols.all()
        if engine.try_key(pinned, engine.read_key(system.format_id, bitting_of(symbol))).operates
    }


def test_keys_on_a_blank_that_enters_are_tried_at_once(cast: Cast, core: Core, other: KeySystem) -> None:
    assert turning(core, other) == set()
    made = fit(cast)
    assert made.tried_at is not None
    assert turning(core, other) == one_by_one(core, other) != set()


def test_it_holds_in_one_direction(cast: Cast, core: Core, own: KeySystem, other: KeySystem) -> None:
    fit(cast)
    there = factories.make_core(actor=cast.locksmith, site=cast.north, system=other)
    assert turning(there, own) == set()
    assert not KeyFamily.of(other).lets_in(own)
    assert KeyFamily.of(own).lets_in(other)


def test_a_core_pinned_afterwards_is_tried_on_them_too(cast: Cast, own: KeySystem, other: KeySystem) -> None:
    fit(cast)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=own)
    assert turning(core, other) == one_by_one(core, other) != set()


def test_keys_of_another_format_are_not_tried(cast: Cast, core: Core) -> None:
    factories.make_system(cast.north, actor=cast.administrator, keyway="THIN", format_id="small-a4-7")
    fit(cast)
    assert not Turn.objects.filter(core=core).exclude(symbol__system=core.system).exists()


def test_taking_the_row_out_takes_its_turns(cast: Cast, core: Core, own: KeySystem, other: KeySystem) -> None:
    before = turning(core, own)
    remove_keyway_fit(actor=cast.locksmith, fit=fit(cast))
    assert turning(core, other) == set()
    assert turning(core, own) == before
    assert not KeywayFit.objects.exists()


def test_too_many_cores_are_left_to_the_next_proof(
    cast: Cast, core: Core, other: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keyways, "MOST_AT_ONCE", 1)
    assert fit(cast).tried_at is None
    assert turning(core, other) == set()
    prove_estate(actor=cast.officer)
    assert turning(core, other) == one_by_one(core, other)
    assert KeywayFit.objects.get().tried_at is not None


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (("WIDE", "WIDE", "Tried"), "without being told so"),
        (("", "WIDE", "Tried"), "Name the keyway"),
        (("THIN", "WIDE", " "), "how you know it"),
        (("THIN", "NOWHERE", "Tried"), "No key system has the keyway NOWHERE"),
    ],
)
def test_it_refuses(
    cast: Cast, own: KeySystem, other: KeySystem, row: tuple[str, str, str], says: str
) -> None:
    with pytest.raises(Refused, match=says):
        fit(cast, *row)


def test_a_row_is_told_once(cast: Cast, own: KeySystem, other: KeySystem) -> None:
    made = fit(cast)
    with pytest.raises(Conflict):
        fit(cast)
    remove_keyway_fit(actor=cast.locksmith, fit=made)
    with pytest.raises(Conflict):
        remove_keyway_fit(actor=cast.locksmith, fit=made)


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "requester"])
def test_only_who_works_with_keys_writes_it(cast: Cast, own: KeySystem, other: KeySystem, name: str) -> None:
    with pytest.raises(PermissionDenied):
        add_keyway_fit(actor=cast.everybody[name], blank_keyway="THIN", core_keyway="WIDE", reason="Tried")


def test_history_tells_it(cast: Cast, own: KeySystem, other: KeySystem) -> None:
    remove_keyway_fit(actor=cast.administrator, fit=fit(cast))
    verbs = list(Event.objects.order_by("at").values_list("verb", flat=True))[-2:]
    assert verbs == ["keyway.fits", "keyway.fits_not"]


def test_the_page_writes_and_takes_out(cast: Cast, own: KeySystem, other: KeySystem, client: Client) -> None:
    client.force_login(cast.locksmith)
    answer = client.post(
        "/formats/keyways/", {"blank_keyway": "THIN", "core_keyway": "WIDE", "reason": "Tried"}
    )
    assert answer.status_code == 302
    made = KeywayFit.objects.get()
    assert "Tried" in client.get("/formats/keyways/").content.decode()
    client.post(f"/formats/keyways/{made.pk}/remove/")
    assert not KeywayFit.objects.exists()


def test_the_page_tells_a_stale_row(cast: Cast, own: KeySystem, other: KeySystem, client: Client) -> None:
    KeywayFit.objects.create(blank_keyway="THIN", core_keyway="WIDE", reason="Table", made_by=cast.locksmith)
    client.force_login(cast.auditor)
    page = client.get("/formats/keyways/").content.decode()
    assert "Stale" in page
    assert "Write down a blank" not in page


def test_new_keys_are_tried_on_cores_that_are_pinned(cast: Cast, core: Core) -> None:
    fit_before = KeySymbol.objects.count()
    same = factories.make_system(cast.north, actor=cast.administrator, keyway="WIDE")
    assert KeySymbol.objects.count() > fit_before
    assert turning(core, same) == one_by_one(core, same) != set()


def test_new_keys_on_an_entering_blank_are_tried_too(cast: Cast, core: Core, other: KeySystem) -> None:
    fit(cast)
    late = factories.make_system(cast.north, actor=cast.administrator, keyway="THIN")
    assert turning(core, late) == one_by_one(core, late) != set()


def test_one_who_only_asks_for_keys_does_not_read_it(cast: Cast, client: Client) -> None:
    client.force_login(cast.requester)
    assert client.get("/formats/keyways/").status_code == 403
