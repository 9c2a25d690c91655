"""The list of formats, one format, and who may see and make them."""

from decimal import Decimal

import pytest
from django.test import Client

from keyctl.accounts.models import User
from keyctl.formats.models import ShopFormat
from keyctl.formats.parameters import parameters_from
from tests.cast import Cast
from tests.keyctl.formats.shop import make, typed

BUILT_IN, OWN = "/formats/small-a2-7/", "/formats/own-ten/"
STAFF = ["locksmith", "desk", "manager", "officer", "auditor", "administrator", "stranger"]
NOT_MAKERS = ["locksmith", "desk", "manager", "officer", "auditor", "requester", "stranger"]


@pytest.fixture
def own(cast: Cast) -> ShopFormat:
    return make(cast.administrator, "own-ten", name="Nought is ten")


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer
    return answer.content.decode()


@pytest.mark.parametrize("who", STAFF)
def test_every_staff_role_reads_formats(client: Client, cast: Cast, own: ShopFormat, who: str) -> None:
    """Formats belong to no site: staff of any site reads them."""
    client.force_login(cast.everybody[who])
    assert "Nought is ten" in page(client, "/formats/")
    assert "Nought is ten" in page(client, OWN)
    assert "Self-proof" in page(client, BUILT_IN)


@pytest.mark.parametrize("address", ["/formats/", BUILT_IN, OWN])
def test_who_only_asks_for_keys_may_not(client: Client, cast: Cast, own: ShopFormat, address: str) -> None:
    client.force_login(cast.requester)
    assert client.get(address).status_code == 403


@pytest.mark.parametrize("who", NOT_MAKERS)
def test_only_an_administrator_makes_and_retires(
    client: Client, cast: Cast, own: ShopFormat, who: str
) -> None:
    client.force_login(cast.everybody[who])
    answers = [client.get("/formats/new/")]
    answers += [client.post(each, typed()) for each in ("/formats/new/", "/formats/new/check/")]
    answers += [client.post(f"{OWN}retire/")]
    assert {answer.status_code for answer in answers} == {403}
    assert ShopFormat.objects.get().retired_at is None


@pytest.mark.parametrize("who", ["locksmith", "administrator"])
def test_only_an_administrator_sees_the_ways_there(
    client: Client, cast: Cast, own: ShopFormat, who: str
) -> None:
    client.force_login(cast.everybody[who])
    ways = ["/formats/new/" in page(client, "/formats/"), "Retire this format" in page(client, OWN)]
    assert ways == [who == "administrator"] * 2


@pytest.mark.parametrize("address", ["/formats/no-such-thing/", "/formats/no-such-thing/retire/"])
def test_an_unknown_format_is_not_found(client: Client, cast: Cast, address: str) -> None:
    client.force_login(cast.administrator)
    assert client.post(address).status_code in {404, 405}
    assert client.get(address).status_code in {404, 405}


def test_a_format_of_the_package_is_not_the_shops_to_retire(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    assert client.post(f"{BUILT_IN}retire/").status_code == 404


def test_the_list_puts_formats_under_their_construction(client: Client, cast: Cast, own: ShopFormat) -> None:
    client.force_login(cast.auditor)
    groups = {
        words: {known.format.id for known in formats}
        for words, formats in client.get("/formats/").context["groups"]
    }
    assert "small-a2-7" in groups["Small-format core"]
    assert "own-ten" in groups["Large-format core"]


def test_retiring_shows_in_the_list_and_on_its_page(client: Client, cast: Cast, own: ShopFormat) -> None:
    client.force_login(cast.administrator)
    answer = client.post(f"{OWN}retire/", follow=True)
    assert answer.redirect_chain == [(OWN, 302)]
    assert "is retired. What was made by it goes on working." in answer.content.decode()
    assert "Retire this format" not in page(client, OWN)
    assert "Retired" in page(client, "/formats/")


def test_a_detail_page_says_the_figures_in_both_units(client: Client, cast: Cast) -> None:
    """0.0125 in is 0.3175 mm by the definition of the inch, 25.4 mm (ISO 31-1)."""
    client.force_login(cast.auditor)
    shown = page(client, BUILT_IN)
    assert "0.0125 in (0.318 mm) from one depth to the next" in shown
    assert "10 increments, 0.125 in (3.175 mm), above the operating line" in shown
    assert "23 under the sleeve" in shown
    assert "0.110 in (2.794 mm), for the shallowest cut" in shown


def test_the_driver_table_stands_on_the_page(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    drivers = client.get("/formats/fixed-6/").context["drivers"]
    assert [(row.term, row.words) for row in drivers] == [("0-3", "1"), ("4-6", "2"), ("7-9", "3")]


def test_visitors_are_sent_to_the_sign_in_page(client: Client, db: None) -> None:
    for address in ("/formats/", BUILT_IN, "/formats/new/"):
        assert client.get(address).headers["Location"].startswith("/account/sign-in/")


def test_a_symbol_that_counts_otherwise_says_what_it_counts(
    client: Client, cast: Cast, own: ShopFormat
) -> None:
    client.force_login(cast.auditor)
    assert "1234567890, from shallow to deep; they count 1-10" in page(client, OWN)
    depths = client.get(OWN).context["depths"]
    assert [(depth.symbol, depth.number) for depth in depths][-1] == ("0", 10)
    assert "Counts" in page(client, OWN)
    assert "Counts" not in page(client, BUILT_IN)


def test_a_detail_page_says_the_figures_in_millimetres_to_who_reads_those(client: Client, cast: Cast) -> None:
    """0.110 in is 2.794 mm, 0.0125 in is 0.3175 mm, which three decimals cannot tell."""
    User.objects.filter(pk=cast.auditor.pk).update(units="mm")
    client.force_login(cast.auditor)
    shown = page(client, BUILT_IN)
    assert "2.794 mm, for the shallowest cut" in shown
    assert "0.318 mm (0.0125 in) from one depth to the next" in shown


def test_a_format_typed_in_millimetres_is_the_one_typed_in_inches() -> None:
    """0.5 mm is 0.5 / 25.4 in; a copy of it says 0.5 again."""
    said = {"unit": "mm", "increment": Decimal("0.5"), "base_pin": Decimal("2.794")}
    found = parameters_from(said)
    assert found["increment_in"] == 0.5 / 25.4
    assert found["base_pin_in"] == 0.110
