"""Recording found pins as what is in a core."""

import json
from functools import partial

import pytest
from django.test import Client

from keyctl import engine
from keyctl.audit.selectors import history_of
from keyctl.bench.services import record_found_pins
from keyctl.cores.models import Core, Turn
from keyctl.cores.services import move_core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Conflict, Refused
from tests.cast import Cast
from tests.factories import install, make_core, make_housing
from tests.keyctl.bench.tray import STATUS, secrets_in, told_history
from tests.signing import sign_in


@pytest.fixture
def other(cast: Cast, core: Core) -> engine.Pinning:
    """The pins of a core keyed elsewhere in the same system."""
    assert core.system
    symbols = [core.system.symbols.get(symbol="AB2")]
    made = make_core(actor=cast.locksmith, site=cast.north, system=core.system, symbols=symbols)
    return pins_of(made)


def impossible(pinned: engine.Pinning) -> str:
    """A column with the right total and a control cut that does not exist."""
    stacks = json.loads(engine.dump(pinned))
    stacks[2] |= {"bottom": 5, "masters": [2], "control": 14, "top": 2}
    return json.dumps(stacks)


def url(core: Core) -> str:
    return f"/bench/pins/{core.pk}/record/"


def turning(core: Core) -> set[str]:
    return set(Turn.objects.filter(core=core, operates=True).values_list("symbol__symbol", flat=True))


@pytest.mark.parametrize("name", [name for name in STATUS if name != "locksmith"])
def test_nobody_else_records_pins(
    client: Client, cast: Cast, core: Core, other: engine.Pinning, name: str
) -> None:
    sign_in(client, getattr(cast, name))
    answer = client.post(url(core), {"version": core.version, "stacks": engine.dump(other)})
    assert answer.status_code == STATUS[name]
    assert turning(core) == {"A", "AA", "AA1"}


def test_the_found_pins_are_sealed_and_the_turns_follow_them(
    cast: Cast, core: Core, other: engine.Pinning
) -> None:
    record_found_pins(actor=cast.locksmith, core=core, version=core.version, stacks=engine.dump(other))
    core.refresh_from_db()
    assert pins_of(core) == other
    assert turning(core) == {"A", "AB", "AB2"}


def test_the_plan_stays_and_the_disagreement_is_told(cast: Cast, core: Core, other: engine.Pinning) -> None:
    found = record_found_pins(
        actor=cast.locksmith, core=core, version=core.version, stacks=engine.dump(other)
    )
    assert {str(effect.symbol) for effect in found.comparison.disagreements} == {"AA", "AA1", "AB", "AB2"}
    assert [str(symbol) for symbol in core.keyed_to.all()] == ["AA1"]
    assert "4 keys do something else than planned" in history_of(core)[0].sentence


def test_the_page_leads_to_the_core_and_tells_the_disagreement(
    client: Client, cast: Cast, core: Core, other: engine.Pinning
) -> None:
    sign_in(client, cast.locksmith)
    facts = {"version": core.version, "stacks": engine.dump(other)}
    page = client.post(url(core), facts, follow=True).content.decode()
    assert f"The pins found in core {core} are recorded" in page
    assert "4 keys do something else to it than planned" in page


def test_pins_as_planned_are_recorded_without_a_warning(cast: Cast, core: Core) -> None:
    same = engine.dump(pins_of(core))
    found = record_found_pins(actor=cast.locksmith, core=core, version=core.version, stacks=same)
    assert found.comparison.count == 0
    assert history_of(core)[0].sentence.endswith(": as planned")


def test_doubtful_pins_are_recorded_only_if_one_stands_by_them(cast: Cast, core: Core) -> None:
    record = partial(record_found_pins, actor=cast.locksmith, core=core, version=core.version)
    doubtful = impossible(pins_of(core))
    with pytest.raises(Refused, match="in doubt"):
        record(stacks=doubtful)
    record(stacks=doubtful, despite_doubts=True)
    assert history_of(core)[0].detail["doubtful"] == 1


def test_it_refuses_a_core_that_sits_in_a_door(cast: Cast, core: Core) -> None:
    install(core, make_housing(cast.north))
    with pytest.raises(Refused, match="take it out with a swap order"):
        record_found_pins(
            actor=cast.locksmith, core=core, version=core.version, stacks=engine.dump(pins_of(core))
        )


def test_it_refuses_a_core_that_is_gone(cast: Cast, core: Core) -> None:
    move_core(actor=cast.locksmith, core=core, version=core.version, place=Core.Place.GONE)
    with pytest.raises(Refused, match="is gone"):
        record_found_pins(
            actor=cast.locksmith, core=core, version=core.version + 1, stacks=engine.dump(pins_of(core))
        )


def test_a_stale_page_records_nothing(cast: Cast, core: Core, other: engine.Pinning) -> None:
    seen = core.version
    move_core(actor=cast.locksmith, core=core, version=seen, place=Core.Place.SHELF)
    with pytest.raises(Conflict, match="has changed since you looked"):
        record_found_pins(actor=cast.locksmith, core=core, version=seen, stacks=engine.dump(other))
    assert turning(core) == {"A", "AA", "AA1"}


@pytest.mark.parametrize("stacks", ["", "x", "[]", "[1]", "{}", '[{"position": 1}]'])
def test_what_is_no_pinning_is_refused_and_told(client: Client, cast: Cast, core: Core, stacks: str) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), {"version": core.version, "stacks": stacks})
    assert answer.status_code == 422
    assert "are not recorded" in answer.content.decode()


def test_no_bitting_gets_into_history(cast: Cast, core: Core, other: engine.Pinning) -> None:
    record_found_pins(actor=cast.locksmith, core=core, version=core.version, stacks=engine.dump(other))
    assert secrets_in(told_history(), core) == []
    assert engine.dump(other) not in told_history()
