"""A key typed beside pins that are shown: pushed in, kept nowhere; the engine's verdict is the referee."""

import pytest
from django.test import Client

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.reveals.models import Reveal
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.factories import symbol
from tests.keyctl.bench.tray import in_kit_numbers
from tests.signing import sign_in


def bitting(core: Core, name: str) -> str:
    assert core.system
    return bitting_of(symbol(core.system, name))


def pinning_url(core: Core) -> str:
    return f"/estate/cores/{core.pk}/pinning/"


@pytest.mark.parametrize("name", ["AA1", "AB2", "CTR"])
def test_it_is_pushed_into_the_pins_that_the_gate_opened(
    client: Client, cast: Cast, core: Core, name: str
) -> None:
    sign_in(client, cast.locksmith)
    cuts = bitting(core, name)
    section = client.post(pinning_url(core), {"key": f" {cuts[:3]} {cuts[3:]} "}).context["section"]
    told = engine.try_key(pins_of(core), engine.read_key(core.format_id, cuts))
    assert section.turning == told
    assert "".join(chamber.cut for chamber in section.chambers) == cuts
    assert Reveal.objects.count() == 1


def test_a_typed_key_opens_no_further_secret_and_stands_in_no_history(
    client: Client, cast: Cast, core: Core
) -> None:
    sign_in(client, cast.locksmith)
    cuts = bitting(core, "AA1")
    answer = client.post(pinning_url(core), {"key": cuts})
    assert [(row.kind, row.subject_id) for row in Reveal.objects.all()] == [("core", core.pk)]
    assert not Event.objects.filter(sentence__contains=cuts).exists()
    assert not any(cuts in str(event.detail) for event in Event.objects.all())
    assert "no-store" in answer.headers["Cache-Control"]
    inside = answer.content.decode().partition('<section class="secret')[2].partition("</section>")[0]
    assert "section-view" in inside


@pytest.mark.parametrize("typed", ["12", "ABCDEF", "1234567890123"])
def test_what_is_no_key_is_told_before_a_look_is_spent(
    client: Client, cast: Cast, core: Core, typed: str
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(pinning_url(core), {"key": typed})
    assert answer.status_code == 422
    assert answer.context["drawing"] is answer.context["section"] is None
    assert not Reveal.objects.exists()


def test_without_a_key_only_the_pins_are_shown(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(pinning_url(core))
    assert answer.context["section"] is None
    assert "section-view" not in answer.content.decode()


@pytest.mark.parametrize("format_id", ["large-sleeve-34", "full-tip-6", "padlock-screw-6", "fixed-6"])
def test_pins_and_a_key_of_no_record_are_drawn_and_not_kept(
    client: Client, cast: Cast, format_id: str
) -> None:
    control = "125056" if format_id == "large-sleeve-34" else None
    pinned = engine.pin(format_id, ["123456", "325456"], control)
    sign_in(client, cast.locksmith)
    for key in ("125456", "523456"):
        answer = client.post(f"/bench/pins/?format={format_id}", in_kit_numbers(pinned) | {"key": key})
        assert answer.context["section"].turning == engine.try_key(pinned, engine.read_key(format_id, key))
        assert not any(key in event.sentence + str(event.detail) for event in Event.objects.all())
