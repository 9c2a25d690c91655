"""Showing the cuts of one key: who may, what is kept, and what is never kept."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.keys.reveal import reveal_key
from keyctl.places.selectors import visible_history
from keyctl.reveals import grounds
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault.errors import Tampered
from tests.cast import Cast
from tests.factories import change_key, make_system
from tests.factories import symbol as named
from tests.permits import let_work_name_everything
from tests.signing import proven, sign_in

STATUS = {
    "locksmith": 200,
    "desk": 403,
    "manager": 403,
    "officer": 403,
    "auditor": 403,
    "administrator": 403,
    "requester": 403,
    "stranger": 404,
}


@pytest.fixture(autouse=True)
def work_names_it(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    """What work that is, and who else agrees, is tested beside the gate."""
    let_work_name_everything(monkeypatch, second=cast.officer)


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return make_system(cast.north, actor=cast.locksmith)


@pytest.fixture
def key(system: KeySystem) -> KeySymbol:
    return change_key(system)


def url(symbol: KeySymbol) -> str:
    return reverse("keys:drawing", args=[symbol.pk])


def reveals(symbol: KeySymbol) -> int:
    return history_of(symbol).filter(verb="key.cuts_shown").count()


@pytest.mark.parametrize("name", STATUS)
def test_only_a_locksmith_of_the_system_s_site_sees_the_cuts(
    client: Client, cast: Cast, key: KeySymbol, name: str
) -> None:
    sign_in(client, cast.everybody[name])
    answer = client.post(url(key))
    assert answer.status_code == STATUS[name]
    assert (bitting_of(key) in answer.content.decode()) == (name == "locksmith")
    assert reveals(key) == (1 if name == "locksmith" else 0)


@pytest.mark.parametrize("name", [name for name, status in STATUS.items() if status == 403])
def test_the_service_itself_refuses_every_other_role(cast: Cast, key: KeySymbol, name: str) -> None:
    with pytest.raises(PermissionDenied):
        reveal_key(actor=cast.everybody[name], sign_in=proven(cast.everybody[name]), symbol=key)
    assert reveals(key) == 0


def test_the_service_lets_a_stranger_find_nothing(cast: Cast, key: KeySymbol) -> None:
    with pytest.raises(Http404):
        reveal_key(actor=cast.stranger, sign_in=proven(cast.stranger), symbol=key)


def test_it_gives_the_bitting_for_a_reason(cast: Cast, key: KeySymbol) -> None:
    assert reveal_key(actor=cast.locksmith, sign_in=proven(cast.locksmith), symbol=key) == bitting_of(key)


@pytest.mark.parametrize(
    ("name", "words"), [("AA1", "change key AA1"), ("A", "master key A"), ("CTR", "control key CTR")]
)
def test_history_says_who_saw_what_kind_of_key_and_why(
    cast: Cast, system: KeySystem, name: str, words: str
) -> None:
    reveal_key(actor=cast.locksmith, sign_in=proven(cast.locksmith), symbol=named(system, name))
    event = history_of(named(system, name))[0]
    assert event.sentence == f"looked at the cuts of {words} ({system.code}) for a test, with Officer"
    assert (event.actor, event.site_id) == (cast.locksmith, cast.north.pk)


def test_a_key_that_two_sites_share_shows_the_event_to_both(cast: Cast) -> None:
    shared = change_key(make_system(cast.north, cast.south, actor=cast.administrator))
    reveal_key(actor=cast.stranger, sign_in=proven(cast.stranger), symbol=shared)
    for person in (cast.officer, cast.stranger):
        assert visible_history(person, shared)[0].verb == "key.cuts_shown"


def test_history_holds_it_even_where_the_vault_does_not_open(cast: Cast, key: KeySymbol) -> None:
    key.bitting = b"\x01" + bytes(60)
    key.save(update_fields=["bitting"])
    with pytest.raises(Tampered):
        reveal_key(actor=cast.locksmith, sign_in=proven(cast.locksmith), symbol=key)
    assert reveals(key) == 1


def test_no_bitting_is_in_any_event(cast: Cast, key: KeySymbol) -> None:
    secret = reveal_key(actor=cast.locksmith, sign_in=proven(cast.locksmith), symbol=key)
    told = [f"{event.sentence} {event.detail}" for event in Event.objects.all()]
    assert told
    assert not [words for words in told if secret in words]


def test_it_is_never_read_by_a_get(client: Client, cast: Cast, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    assert client.get(url(key)).status_code == 405
    assert reveals(key) == 0


def test_no_cache_keeps_it(client: Client, cast: Cast, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    assert "no-store" in client.post(url(key)).headers["Cache-Control"]


def test_without_work_or_permission_nothing_is_shown_and_the_answer_leads_to_asking(
    client: Client, cast: Cast, key: KeySymbol, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(grounds, "_sources", [])
    sign_in(client, cast.locksmith)
    answer = client.post(url(key), headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert bitting_of(key) not in answer.content.decode()
    assert reverse("reveals:ask", args=["key", key.pk]) in answer.content.decode()
    assert reveals(key) == 0


def test_htmx_gets_only_the_piece_and_it_hides_itself(client: Client, cast: Cast, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    page = client.post(url(key), headers={"HX-Request": "true"}).content.decode()
    assert "data-hide-after" in page
    assert "<svg" in page
    assert "<html" not in page


def test_no_bitting_stands_in_the_title_of_the_page(client: Client, cast: Cast, key: KeySymbol) -> None:
    sign_in(client, cast.locksmith)
    page = client.post(url(key)).content.decode()
    assert bitting_of(key) not in page.split("</head>")[0]


def test_the_page_of_the_key_offers_it_to_a_locksmith_and_holds_no_cut(
    client: Client, cast: Cast, key: KeySymbol
) -> None:
    sign_in(client, cast.locksmith)
    client.post(url(key))
    page = client.get(reverse("cores:symbol", args=[key.pk])).content.decode()
    assert url(key) in page
    assert bitting_of(key) not in page


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "administrator"])
def test_the_page_of_the_key_offers_it_to_nobody_else(
    client: Client, cast: Cast, key: KeySymbol, name: str
) -> None:
    sign_in(client, cast.everybody[name])
    page = client.get(reverse("cores:symbol", args=[key.pk])).content.decode()
    assert url(key) not in page


@pytest.mark.parametrize(
    ("name", "words"), [("A", "This is a master key"), ("CTR", "This is a control key"), ("AA1", "")]
)
def test_the_offer_says_what_a_master_or_control_key_is(
    client: Client, cast: Cast, system: KeySystem, name: str, words: str
) -> None:
    sign_in(client, cast.locksmith)
    page = client.get(reverse("cores:symbol", args=[named(system, name).pk])).content.decode()
    assert words in page
    assert words or "This is a" not in page
