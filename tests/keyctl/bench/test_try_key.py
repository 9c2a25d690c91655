"""Trying a key in a core."""

import pytest
from django.test import Client

from keyctl.audit.selectors import history_of
from keyctl.bench.services import try_key_in_core
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from tests.cast import Cast
from tests.factories import make_core, make_system, symbol
from tests.keyctl.bench.tray import STATUS, secrets_in, told_history
from tests.signing import proven, sign_in


def url(core: Core) -> str:
    return f"/bench/try/?core={core.pk}"


def said(core: Core, name: str) -> dict[str, str]:
    assert core.system
    return {"system": str(core.system.pk), "symbol": name}


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_tries_keys(client: Client, cast: Cast, core: Core, name: str) -> None:
    sign_in(client, getattr(cast, name))
    assert client.post(url(core), said(core, "AA1")).status_code == STATUS[name]
    assert history_of(core).filter(verb="core.key_tried").count() == (name == "locksmith")


def test_it_asks_for_a_core_first(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/bench/try/").status_code == 200
    assert client.get("/bench/try/", {"tag": core.tag}).headers["Location"] == url(core)
    assert client.get("/bench/try/?format=small-a2-7").status_code == 200
    assert client.get(url(core)).status_code == 200


@pytest.mark.parametrize(
    ("name", "verdict"),
    [
        ("AA1", "It turns the plug"),
        ("a", "It turns the plug"),
        ("CTR", "It takes the core out and does not turn the plug"),
        ("AB2", "It does neither: it binds"),
    ],
)
def test_it_says_what_the_key_does(client: Client, cast: Cast, core: Core, name: str, verdict: str) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), said(core, name))
    assert answer.context["trial"].verdict == verdict
    assert verdict in answer.content.decode()


def test_it_names_the_positions_that_bind(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    page = client.post(url(core), said(core, "AB2"))
    chambers = page.context["section"].chambers
    blocked = tuple(chamber.position for chamber in chambers if not chamber.plug.is_free)
    assert blocked == page.context["trial"].turning.binds
    assert blocked


def test_the_picture_stands_in_the_box_that_hides_itself(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), said(core, "AA1"))
    before, _, rest = answer.content.decode().partition('<section class="secret')
    inside, _, after = rest.partition("</section>")
    assert "pin-label" in inside
    assert "pin-label" not in before + after
    assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("name", ["", "ZZ9", "1AA"])
def test_an_unknown_symbol_is_told(client: Client, cast: Cast, core: Core, name: str) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), said(core, name))
    assert answer.status_code == 422
    assert answer.context["trial"] is None


def test_only_systems_of_the_same_keyway_can_be_chosen(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    same = make_system(cast.north, actor=cast.administrator, keyway=core.system.keyway)
    make_system(cast.north, actor=cast.administrator)
    make_system(cast.south, actor=cast.stranger, keyway=core.system.keyway)
    sign_in(client, cast.locksmith)
    choices = client.get(url(core)).context["form"].fields["system"].queryset
    assert set(choices) == {core.system, same}


def test_the_service_refuses_a_key_of_another_keyway(cast: Cast, core: Core) -> None:
    other = make_system(cast.north, actor=cast.administrator)
    with pytest.raises(Refused, match="does not enter the keyway"):
        try_key_in_core(
            actor=cast.locksmith, sign_in=proven(cast.locksmith), core=core, symbol=symbol(other, "A")
        )


def test_a_core_without_pins_has_nothing_to_try(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    bare = make_core(actor=cast.locksmith, site=cast.north, system=core.system, pinned=False)
    sign_in(client, cast.locksmith)
    assert "not pinned yet" in client.get(url(bare)).content.decode()
    with pytest.raises(Refused, match="not pinned yet"):
        try_key_in_core(
            actor=cast.locksmith, sign_in=proven(cast.locksmith), core=bare, symbol=symbol(core.system, "A")
        )


def test_history_names_core_and_key_and_no_cut(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    sign_in(client, cast.locksmith)
    client.post(url(core), said(core, "AB2"))
    event = history_of(symbol(core.system, "AB2")).get(verb="core.key_tried")
    assert event in history_of(core)
    assert [each.verb for each in history_of(core)[:2]] == ["core.pinning_shown", "core.key_tried"]
    assert event.sentence == f"tried key AB2 of {core.system.code} on the pins of core {core}"
    assert secrets_in(told_history(), core) == []


def test_a_core_without_a_sleeve_has_no_control_line(client: Client, cast: Cast) -> None:
    system = make_system(cast.north, actor=cast.administrator, format_id="fixed-6")
    plain = make_core(actor=cast.locksmith, site=cast.north, system=system)
    sign_in(client, cast.locksmith)
    page = client.post(url(plain), said(plain, "AA1"))
    assert page.context["trial"].verdict == "It turns the plug"
    assert "To take the core out" not in page.content.decode()
    assert {chamber.core for chamber in page.context["section"].chambers} == {None}
