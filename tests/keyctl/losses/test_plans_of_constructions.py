"""Rekeying after a lost top master in every construction: each plan that can be gone is gone to its end."""

import pytest

from keyctl.cores.models import Core
from keyctl.engine import load_format
from keyctl.losses import services
from keyctl.losses.models import RekeyPlan
from keyctl.systems.models import KeySymbol
from tests.cast import Cast
from tests.factories import (
    install,
    make_cabinet,
    make_copy,
    make_core,
    make_floor,
    make_housing,
    make_system,
)
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate
from tests.keyctl.losses.mechanics import cuts_of, effect
from tests.keyctl.losses.rekeying import work

pytestmark = pytest.mark.django_db

FORMATS = (
    "small-a2-6",
    "small-a3-7",
    "small-a4-7",
    "large-sleeve-34",
    "large-sleeve-2345",
    "full-tip-6",
    "padlock-screw-6",
    "fixed-6",
)
CHANGES = ("AA1", "AA2", "AB1")


@pytest.mark.parametrize("kind", ["replace", "take-out", "new-part"])
@pytest.mark.parametrize("format_id", FORMATS)
def test_every_plan_that_is_called_possible_is(cast: Cast, format_id: str, kind: str) -> None:
    system = make_system(cast.north, actor=cast.administrator, format_id=format_id)
    estate = Estate(cast, system, make_cabinet(cast.north), make_floor(cast.north))
    for name in CHANGES:
        furnish(estate, name)
    top = estate.key("A")
    lost = cuts_of(top)
    case = estate.lose(make_copy(top, estate.cabinet))
    finish(services.make_plans(actor=cast.locksmith, case=case))
    case.refresh_from_db()
    plan = case.plans.get(kind=kind)
    if not plan.figures["possible"]:
        assert plan.figures["why_not"]
        assert not RekeyPlan.objects.filter(pk=plan.pk, secret__isnull=False)
        return
    before = {name: who_turns(core, estate) for name, core in in_doors().items()}
    services.choose_plan(actor=cast.officer, case=case, plan=plan, version=case.version)
    work(cast, case)
    after = in_doors()
    assert set(after) == set(CHANGES)
    for name, core in after.items():
        assert effect(core, lost) == (False, False)
        if kind != "new-part":
            assert who_turns(core, estate) - {"A-2"} == before[name] - {"A"}


def furnish(estate: Estate, name: str) -> None:
    format_id = estate.system.format_id
    core = make_core(
        actor=estate.cast.locksmith,
        site=estate.cast.north,
        system=estate.system,
        symbols=[estate.key(name)],
    )
    install(core, make_housing(estate.cast.north, construction=load_format(format_id).construction))


def in_doors() -> dict[str, Core]:
    cores = Core.objects.filter(place=Core.Place.HOUSING).select_related("system")
    return {core.keyed_to.get().symbol: core for core in cores}


def who_turns(core: Core, estate: Estate) -> set[str]:
    keys = KeySymbol.objects.filter(system=estate.system).select_related("system")
    return {key.symbol for key in keys if effect(core, cuts_of(key))[0]}
