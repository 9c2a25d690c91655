"""Reading a key by calipers."""

import pytest
from django.test import Client

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.keyctl.bench.tray import STATUS, secrets_in, told_history
from tests.signing import sign_in


@pytest.fixture
def key(core: Core) -> KeySymbol:
    return core.keyed_to.get()


def url(core: Core) -> str:
    assert core.system
    return f"/bench/key/?system={core.system.pk}&format="


def depths_of(key: KeySymbol, *, worn: float = 0.0) -> dict[str, str]:
    """The key's root depths as calipers show them; wear takes metal away."""
    format_id = key.system.format_id
    chosen, cuts = engine.load_format(format_id), engine.read_key(format_id, bitting_of(key)).cuts
    depths = [chosen.root_depth_in(cut) for cut in cuts]
    typed = {f"depth_{nth}": f"{(depth or 0) - worn:.5f}" for nth, depth in enumerate(depths, 1)}
    return typed | {"tolerance_in": "0.002"}


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_site_reads_a_key(
    client: Client, cast: Cast, core: Core, key: KeySymbol, name: str
) -> None:
    sign_in(client, getattr(cast, name))
    answer = client.post(url(core), depths_of(key))
    # A stranger is a locksmith elsewhere: the page is theirs, this system is not among their choices.
    assert answer.status_code == (422 if name == "stranger" else STATUS[name])
    assert Event.objects.filter(verb="bench.key_read").count() == (name == "locksmith")


def test_it_asks_for_a_system_or_a_construction_first(client: Client, cast: Cast, core: Core) -> None:
    sign_in(client, cast.locksmith)
    assert client.get("/bench/key/").status_code == 200
    assert client.get("/bench/key/?system=&format=").status_code == 422
    assert client.get(url(core)).status_code == 200


def test_it_tells_the_cuts_and_which_key_it_is(
    client: Client, cast: Cast, core: Core, key: KeySymbol
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), depths_of(key))
    assert answer.context["found"].symbols == (key,)
    assert bitting_of(key) in answer.content.decode()


def test_wear_makes_it_no_other_key(client: Client, cast: Cast, core: Core, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    assert client.post(url(core), depths_of(key, worn=0.005)).context["found"].symbols == (key,)


def test_a_cut_worn_more_than_half_way_down_is_in_doubt(
    client: Client, cast: Cast, core: Core, key: KeySymbol
) -> None:
    sign_in(client, cast.locksmith)
    worn = depths_of(key) | {"depth_3": depths_of(key, worn=0.009)["depth_3"]}
    answer = client.post(url(core), worn)
    assert [doubt.position for doubt in answer.context["doubts"]] == [3]
    assert key in answer.context["found"].symbols


def test_a_doubtful_cut_leads_to_every_key_it_may_be(
    client: Client, cast: Cast, core: Core, key: KeySymbol
) -> None:
    """A tolerance as wide as a depth leaves both depths open; the key itself is among what they make."""
    sign_in(client, cast.locksmith)
    wide = depths_of(key, worn=0.00625) | {"tolerance_in": "0.0065"}
    found = client.post(url(core), wide).context["found"]
    assert found.reading.doubts
    assert key in found.symbols + found.perhaps


def test_a_shallower_key_than_there_is_has_no_bitting(
    client: Client, cast: Cast, core: Core, key: KeySymbol
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), depths_of(key) | {"depth_1": "0.9"})
    assert answer.context["found"].reading.bitting is None
    assert "make no key of this format" in answer.content.decode()


def test_a_key_of_no_known_bitting_is_nobody(client: Client, cast: Cast, core: Core, key: KeySymbol) -> None:
    other = depths_of(key)
    other["depth_1"], other["depth_2"] = other["depth_2"], other["depth_1"]
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), other)
    assert answer.context["found"].symbols == ()
    assert "No key of" in answer.content.decode()


def test_a_control_key_is_recognised_and_cautioned(client: Client, cast: Cast, core: Core) -> None:
    assert core.system
    control = control_of(core.system)
    assert control
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), depths_of(control))
    assert answer.context["found"].symbols == (control,)
    assert "This key takes cores out" in answer.content.decode()


def test_without_a_system_only_the_cuts_are_told(
    client: Client, cast: Cast, core: Core, key: KeySymbol
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(f"/bench/key/?format={key.system.format_id}", depths_of(key))
    assert answer.context["found"].symbols == ()
    assert bitting_of(key) in answer.content.decode()


@pytest.mark.parametrize("typed", ["", "deep", "-1", "2"])
def test_what_is_no_depth_is_refused_at_its_position(
    client: Client, cast: Cast, core: Core, key: KeySymbol, typed: str
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(url(core), depths_of(key) | {"depth_4": typed})
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["depth_4"]


def test_history_names_the_key_and_no_cut(client: Client, cast: Cast, core: Core, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    client.post(url(core), depths_of(key))
    event = Event.objects.get(verb="bench.key_read")
    assert event.sentence == f"read a key by calipers: {key} of {key.system.code}"
    assert event.site_id == cast.north.pk
    assert secrets_in(told_history(), core) == []
