"""Key systems: the list, one system's tree, and the search by symbol."""

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from keyctl.systems.models import KeySystem
from keyctl.systems.services import bitting_of
from tests.cast import Cast
from tests.factories import change_key, make_core, make_system


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return make_system(cast.north, actor=cast.locksmith, code="NK", name="North keys")


def url(system: KeySystem) -> str:
    return f"/systems/{system.pk}/"


def below(system: KeySystem, **facts: object) -> str:
    return f"/systems/keys/{system.symbols.get(**facts).pk}/below/"


STATUS = {
    "locksmith": 200,
    "desk": 200,
    "manager": 200,
    "officer": 200,
    "auditor": 200,
    "administrator": 200,
    "requester": 403,
    "stranger": 404,
}


@pytest.mark.parametrize("name", STATUS)
def test_each_role_gets_its_answer(client: Client, cast: Cast, system: KeySystem, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(url(system)).status_code == STATUS[name]
    assert client.get(below(system, level=0)).status_code == STATUS[name]


@pytest.mark.parametrize("name", [name for name, status in STATUS.items() if status == 200])
def test_the_staff_sees_the_list(client: Client, cast: Cast, system: KeySystem, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert "North keys" in client.get("/systems/").content.decode()


def test_a_requester_may_not_see_the_list(client: Client, cast: Cast) -> None:
    client.force_login(cast.requester)
    assert client.get("/systems/").status_code == 403


def test_a_stranger_sees_an_empty_list_that_teaches(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.stranger)
    page = client.get("/systems/").content.decode()
    assert "North keys" not in page
    assert "No key system yet" in page


def test_visitors_are_sent_to_the_sign_in_page(client: Client, system: KeySystem) -> None:
    for address in ("/systems/", url(system), below(system, level=0)):
        assert client.get(address).headers["Location"].startswith("/account/sign-in/")


def test_the_list_counts_masters_and_change_keys_once_for_two_sites(client: Client, cast: Cast) -> None:
    make_system(cast.north, cast.south, actor=cast.locksmith)
    client.force_login(cast.locksmith)
    (listed,) = client.get("/systems/").context["systems"]
    assert (listed.masters, listed.changes) == (3, 4)


def test_the_tree_shows_the_first_branch_and_fetches_the_rest(
    client: Client, cast: Cast, system: KeySystem
) -> None:
    client.force_login(cast.auditor)
    page = client.get(url(system)).content.decode()
    assert "Top master key" in page
    for master in system.symbols.filter(level=1):
        assert f"/systems/keys/{master.pk}/below/" in page
    assert "Change key" not in page


def test_a_branch_lists_the_keys_directly_below(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.auditor)
    answer = client.get(below(system, level=0), headers={"HX-Request": "true"})
    assert [key.level for key in answer.context["page"]] == [1, 1]
    assert "<html" not in answer.content.decode()


def test_without_scripts_a_branch_is_a_page(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.auditor)
    assert "<html" in client.get(below(system, level=0)).content.decode()


def test_a_key_says_how_many_cores_one_may_see_are_keyed_to_it(client: Client, cast: Cast) -> None:
    system = make_system(cast.north, cast.south, actor=cast.locksmith)
    key = change_key(system)
    make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    address = f"/systems/keys/{key.parent_id}/below/"
    for actor, count in ((cast.auditor, 1), (cast.stranger, 0)):
        client.force_login(actor)
        keys = {found.pk: found for found in client.get(address).context["page"]}
        assert keys[key.pk].cores_keyed == count


def test_the_search_finds_symbols_by_their_beginning(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.auditor)
    wanted = str(change_key(system))
    answer = client.get(url(system), {"q": wanted.lower()}, headers={"HX-Request": "true"})
    assert [str(key) for key in answer.context["page"]] == [wanted]


def test_a_search_without_a_hit_says_so(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.auditor)
    assert "No key of this system begins with" in client.get(url(system), {"q": "zz"}).content.decode()


def test_the_control_key_is_cautioned(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.auditor)
    assert "This key takes cores out" in client.get(url(system)).content.decode()


def test_no_page_shows_a_bitting(client: Client, cast: Cast, system: KeySystem) -> None:
    client.force_login(cast.locksmith)
    addresses = ["/systems/", url(system), below(system, level=0), f"{url(system)}?q=a"]
    text = "".join(client.get(address).content.decode() for address in addresses)
    for symbol in system.symbols.all():
        assert bitting_of(symbol) not in text


def test_the_query_count_does_not_grow_with_the_branch(
    client: Client, cast: Cast, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    few = make_system(cast.north, actor=cast.locksmith)
    many = make_system(cast.north, actor=cast.locksmith, levels=(((1, 2), 6), ((3, 4), 3)))
    client.force_login(cast.auditor)
    with django_assert_num_queries(10) as counted:
        client.get(below(few, level=0))
    with django_assert_num_queries(len(counted.captured_queries)):
        client.get(below(many, level=0))


def test_a_shared_system_tells_nothing_of_the_other_site(client: Client, cast: Cast) -> None:
    system = make_system(cast.north, cast.south, actor=cast.locksmith)
    make_core(actor=cast.locksmith, site=cast.north, system=system)
    client.force_login(cast.stranger)
    page = client.get(url(system)).content.decode()
    assert "South site" in page
    assert "North site" not in page
    assert "designed the key system" not in page
