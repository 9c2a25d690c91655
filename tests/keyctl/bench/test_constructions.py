"""The same acts on every construction: which line there is, which blank, and how the core comes out."""

import pytest
from django.test import Client

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from tests.cast import Cast
from tests.factories import make_core, make_system
from tests.keyctl.bench.tray import in_inches, tray_of
from tests.signing import sign_in

FORMATS = sorted({format_id for format_id, _ in engine.format_names()})
# A driver from a table of plug totals carries a kit number and has no length that could be measured.
MEASURABLE = [each for each in FORMATS if engine.load_format(each).drivers is None]
LEVELS = (((1, 2), 2), ((3, 4), 2))


def core_of(cast: Cast, format_id: str) -> Core:
    system = make_system(cast.north, actor=cast.administrator, format_id=format_id, levels=LEVELS)
    return make_core(actor=cast.locksmith, site=cast.north, system=system)


def tried(client: Client, core: Core, name: str, **more: str) -> tuple[bool, bool]:
    assert core.system
    said = {"system": str(core.system.pk), "symbol": name, "blank": "operating"} | more
    turning = client.post(f"/bench/try/?core={core.pk}", said).context["trial"].turning
    return turning.operates, turning.withdraws


@pytest.mark.parametrize("format_id", FORMATS)
def test_the_pins_of_every_construction_read_back_without_a_doubt(
    client: Client, cast: Cast, format_id: str
) -> None:
    core = core_of(cast, format_id)
    sign_in(client, cast.locksmith)
    decoding = client.post(f"/bench/pins/?core={core.pk}", tray_of(core)).context["decoding"]
    assert decoding.reading.stacks == pins_of(core).stacks
    assert (decoding.reading.doubts, decoding.differing, decoding.comparison.count) == ((), (), 0)


@pytest.mark.parametrize("format_id", MEASURABLE)
def test_measured_pins_read_back_and_lie_at_their_lines(client: Client, cast: Cast, format_id: str) -> None:
    core = core_of(cast, format_id)
    typed = in_inches(pins_of(core), longer=0.0005)
    sign_in(client, cast.locksmith)
    decoding = client.post(f"/bench/pins/?core={core.pk}", typed).context["decoding"]
    chart = client.post(f"/bench/measure/?core={core.pk}", typed).context["chart"]
    assert decoding.differing == ()
    assert {each.label for each in chart.breaks} == {"+0.5"}


@pytest.mark.parametrize("format_id", FORMATS)
def test_its_own_key_turns_every_construction_and_takes_none_out(
    client: Client, cast: Cast, format_id: str
) -> None:
    core = core_of(cast, format_id)
    sign_in(client, cast.locksmith)
    assert tried(client, core, "AA1") == (True, False)


@pytest.mark.parametrize("format_id", FORMATS)
def test_every_construction_is_repinned_and_then_turns_for_its_new_key(
    client: Client, cast: Cast, format_id: str
) -> None:
    core = core_of(cast, format_id)
    sign_in(client, cast.locksmith)
    client.post(f"/bench/repin/{core.pk}/done/", {"version": core.version, "symbols": "AB2"})
    assert tried(client, core, "AB2") == (True, False)
    assert tried(client, core, "AA1") == (False, False)


def test_on_a_control_blank_an_operating_key_takes_a_tip_operated_core_out(
    client: Client, cast: Cast
) -> None:
    core = core_of(cast, "full-tip-6")
    sign_in(client, cast.locksmith)
    assert tried(client, core, "AA1", blank="operating") == (True, False)
    assert tried(client, core, "AA1", blank="control") == (True, True)
    assert tried(client, core, "AB2", blank="control") == (False, False)


@pytest.mark.parametrize("format_id", ["small-a2-7", "padlock-screw-6"])
def test_no_other_construction_asks_for_the_blank(client: Client, cast: Cast, format_id: str) -> None:
    core = core_of(cast, format_id)
    sign_in(client, cast.locksmith)
    assert "blank" not in client.get(f"/bench/try/?core={core.pk}").context["form"].fields
    assert tried(client, core, "AA1", blank="control") == (True, False)


def test_a_padlock_says_how_the_core_comes_out_once_a_key_turns(client: Client, cast: Cast) -> None:
    core = core_of(cast, "padlock-screw-6")
    assert core.system
    sign_in(client, cast.locksmith)
    pages = {
        name: client.post(
            f"/bench/try/?core={core.pk}", {"system": core.system.pk, "symbol": name}
        ).content.decode()
        for name in ("AA1", "AB2")
    }
    assert "undo the screw" in pages["AA1"]
    assert "undo the screw" not in pages["AB2"]


def test_outside_the_sleeve_the_control_cut_stays_open(client: Client, cast: Cast) -> None:
    """Large format: there the control key carries one of the operating cuts; one core cannot say which."""
    core = core_of(cast, "large-sleeve-34")
    sign_in(client, cast.locksmith)
    answer = client.post(f"/bench/pins/?core={core.pk}", tray_of(core))
    several = [stack.position for stack in pins_of(core).stacks if len(stack.breaks) > 1]
    assert [doubt.position for doubt in answer.context["doubts"]] == [
        position for position in several if position not in (3, 4)
    ]
    assert answer.context["must_stand_by"] is False


def test_a_control_pin_without_its_sign_is_asked_for_again(client: Client, cast: Cast) -> None:
    core = core_of(cast, "large-sleeve-2345")
    sign_in(client, cast.locksmith)
    typed = tray_of(core) | {"pins_3": "3 8 5"}
    answer = client.post(f"/bench/pins/?core={core.pk}", typed)
    assert "Write the control pin with its sign" in str(answer.context["form"].errors["pins_3"])
