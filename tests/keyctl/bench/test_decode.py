"""Reading the pins taken out of a core."""

import re

import pytest
from django.test import Client

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.factories import install, make_core, make_housing
from tests.keyctl.bench.tray import STATUS, in_inches, in_kit_numbers, tray_of
from tests.signing import sign_in

# Keynotes 2024-10 p.55 and a trade forum: 5, 2, 14, 2 adds up to 23 and is impossible; control cut 11.
IMPOSSIBLE = "5 2 14 2"


def url(core: Core) -> str:
    return f"/bench/pins/?core={core.pk}"


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_reads_pins(client: Client, cast: Cast, core: Core, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.post(url(core), tray_of(core)).status_code == STATUS[name]
    assert history_of(core).filter(verb="bench.pins_read").count() == (name == "locksmith")


@pytest.mark.parametrize("name", [name for name, status in STATUS.items() if status == 403])
def test_nobody_else_gets_the_form(client: Client, cast: Cast, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.get("/bench/pins/").status_code == 403


def test_it_asks_for_a_core_or_a_construction_first(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/bench/pins/").status_code == 200
    answer = client.get("/bench/pins/", {"tag": str(core).lower(), "format": ""})
    assert answer.headers["Location"] == url(core)


@pytest.mark.parametrize("said", [{"tag": ""}, {"tag": "BCDF2345GHJK"}, {"tag": "", "format": "none-such"}])
def test_it_says_what_is_wrong_with_the_choice(client: Client, cast: Cast, said: dict[str, str]) -> None:
    sign_in(client, cast.locksmith)
    answer = client.get("/bench/pins/", said)
    assert answer.status_code == 422
    assert answer.context["form"].errors


def test_a_core_of_another_site_is_not_found_by_its_tag(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.stranger)
    assert client.get("/bench/pins/", {"tag": core.tag}).status_code == 422


def test_it_tells_the_cuts_of_every_position(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    reading = client.post(url(core), tray_of(core)).context["decoding"].reading
    stacks = pins_of(core).stacks
    for cuts, stack in zip(reading.operating, stacks, strict=True):
        assert list(cuts) == [
            stack.bottom + sum(stack.masters[:count]) for count in range(len(stack.masters) + 1)
        ]


def test_it_tells_the_control_key(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    control = control_of(core.system)
    assert control
    sign_in(client, cast.locksmith)
    assert bitting_of(control) in client.post(url(core), tray_of(core)).content.decode()


def test_a_micrometer_tells_the_same_as_the_kit(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    by_kit = client.post(url(core), tray_of(core)).context["decoding"].reading
    by_inches = client.post(url(core), in_inches(pins_of(core), longer=0.001)).context["decoding"].reading
    assert by_inches.operating == by_kit.operating
    assert by_inches.doubts == ()


def test_a_length_between_two_sizes_is_in_doubt(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), in_inches(pins_of(core), longer=0.0125 / 2))
    assert {doubt.position for doubt in answer.context["doubts"]} == set(range(1, 8))
    assert any(doubt.alternatives for doubt in answer.context["doubts"])


def test_pins_with_the_right_total_that_nobody_can_have_meant_are_caught(
    client: Client, cast: Cast, core: Core
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), tray_of(core) | {"pins_3": IMPOSSIBLE})
    doubts = [doubt for doubt in answer.context["doubts"] if doubt.position == 3]
    assert any("control cut of 11" in doubt.message for doubt in doubts)
    assert "Nothing is in doubt" not in answer.content.decode()


def test_the_pins_of_the_records_are_recognised(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), tray_of(core))
    decoding = answer.context["decoding"]
    assert decoding.differing == ()
    assert decoding.comparison.disagreements == ()
    assert {str(effect.symbol) for effect in decoding.comparison.effects} == {"A", "AA", "AA1", "CTR"}


def test_the_pins_of_another_core_are_told_from_the_plan(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    other = make_core(
        actor=cast.locksmith,
        site=cast.north,
        system=core.system,
        symbols=[core.system.symbols.get(symbol="AB2")],
    )
    sign_in(client, cast.locksmith)
    decoding = client.post(url(core), tray_of(other)).context["decoding"]
    found = {
        str(effect.symbol): (effect.operates, effect.meant_to_operate)
        for effect in decoding.comparison.effects
    }
    assert found["AA1"] == (False, True)
    assert found["AB2"] == (True, False)
    assert found["A"] == (True, True)
    assert decoding.differing


def test_a_core_without_a_record_is_read_by_its_construction(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post("/bench/pins/?format=small-a2-7", tray_of(core))
    assert answer.context["decoding"].comparison is None
    event = Event.objects.get(verb="bench.pins_read")
    assert (event.site_id, event.actor) == (cast.north.pk, cast.locksmith)


def test_an_unknown_construction_is_not_found(client: Client, cast: Cast) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/bench/pins/?format=none-such").status_code == 404
    assert client.get("/bench/pins/?core=none-such").status_code == 404


@pytest.mark.parametrize("typed", ["3 x 12", "7", "3 -2 12 4", "1234 2 2 2", "", "- -"])
def test_what_is_no_column_of_pins_is_refused_at_its_position(
    client: Client, cast: Cast, core: Core, typed: str
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), tray_of(core) | {"pins_2": typed})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["pins_2"]
    assert history_of(core).filter(verb="bench.pins_read").count() == 0


@pytest.mark.parametrize("typed", ["long", "-.1", "nan", "1.5"])
def test_what_is_no_length_is_refused_at_its_position(
    client: Client, cast: Cast, core: Core, typed: str
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), in_inches(pins_of(core)) | {"pins_2": f"{typed} .1 .1 .1"})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["pins_2"]


def test_a_position_without_pins_is_said_so_and_binds_no_key(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), tray_of(core) | {"pins_7": "-"})
    assert answer.context["decoding"].reading.stacks[6].is_empty
    assert answer.context["decoding"].differing == (7,)


def test_a_core_in_a_door_is_read_and_not_recorded(client: Client, cast: Cast, core: Core) -> None:
    install(core, make_housing(cast.north))
    sign_in(client, cast.locksmith)
    page = client.post(url(core), tray_of(core)).content.decode()
    assert "its pins cannot lie on the bench" in page
    assert "Record these pins as what is in the core" not in page


def test_commas_and_slashes_part_pins_too(client: Client, cast: Cast, core: Core) -> None:
    typed = {name: re.sub(" ", ", ", text) for name, text in in_kit_numbers(pins_of(core)).items()}
    sign_in(client, cast.locksmith)
    assert client.post(url(core), typed).context["decoding"].differing == ()


def test_everything_secret_stands_in_the_box_that_hides_itself(
    client: Client, cast: Cast, core: Core
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), tray_of(core))
    page = answer.content.decode()
    before, _, after = page.partition('<section class="secret')
    inside, _, after = after.partition("</section>")
    assert tray_of(core)["pins_1"] in inside
    assert tray_of(core)["pins_1"] not in before + after
    assert "data-hide-after" in inside
    assert "no-store" in answer.headers["Cache-Control"]
