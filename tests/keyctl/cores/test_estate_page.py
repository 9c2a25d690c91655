"""The estate: which doors a person finds, and how."""

from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from keyctl.cores.models import Core
from keyctl.places.models import Site
from tests.cast import Cast
from tests.factories import install, make_core, make_door, make_housing, make_site, make_system, make_user

URL = "/estate/"


def furnish(cast: Cast, count: int = 1, site: Site | None = None) -> list[Core]:
    site = site or cast.north
    actor = cast.locksmith if site == cast.north else cast.stranger
    system = make_system(site, actor=actor)
    return [
        install(make_core(actor=actor, site=site, system=system), make_housing(site)) for _ in range(count)
    ]


def shown(client: Client, **query: Any) -> str:
    return client.get(URL, query).content.decode()


@pytest.mark.parametrize("name", ["locksmith", "desk", "manager", "officer", "auditor", "administrator"])
def test_everybody_on_the_staff_may_look(client: Client, cast: Cast, name: str) -> None:
    client.force_login(getattr(cast, name))
    assert client.get(URL).status_code == 200


def test_it_forbids_somebody_who_only_asks_for_keys(client: Client, cast: Cast) -> None:
    client.force_login(cast.requester)
    assert client.get(URL).status_code == 403


def test_it_sends_a_visitor_to_the_sign_in_page(client: Client, cast: Cast) -> None:
    assert client.get(URL).headers["Location"] == f"/account/sign-in/?next={URL}"


def test_a_stranger_sees_only_their_own_site(client: Client, cast: Cast) -> None:
    ours, theirs = make_door(cast.north, number="N-77"), make_door(cast.south, number="S-88")
    client.force_login(cast.stranger)
    page = shown(client)
    assert theirs.number in page
    assert ours.number not in page


def test_it_finds_a_door_by_number_room_and_building(client: Client, cast: Cast) -> None:
    door = make_door(cast.north, number="X-12", name="Boiler room")
    other = make_door(cast.north, number="Y-13")
    client.force_login(cast.locksmith)
    for words in ("x-12", "boiler", f"{door.building.code} boiler"):
        page = shown(client, q=words)
        assert door.number in page
        assert other.number not in page


def test_every_word_has_to_be_found(client: Client, cast: Cast) -> None:
    make_door(cast.north, number="X-12", name="Boiler room")
    client.force_login(cast.locksmith)
    assert "No door answers to that" in shown(client, q="boiler cellar")


def test_it_finds_a_door_by_a_part_of_the_tag_in_it(client: Client, cast: Cast) -> None:
    core, other = furnish(cast, 2)
    client.force_login(cast.locksmith)
    page = shown(client, q=core.tag[:6])
    assert str(core) in page
    assert str(other) not in page


def test_a_whole_tag_leads_to_its_core(client: Client, cast: Cast) -> None:
    (core,) = furnish(cast)
    client.force_login(cast.locksmith)
    answer = client.get(URL, {"q": str(core).lower()})
    assert answer.headers["Location"] == f"/estate/cores/{core.pk}/"


def test_a_whole_tag_typed_into_the_live_search_leads_there_too(client: Client, cast: Cast) -> None:
    (core,) = furnish(cast)
    client.force_login(cast.locksmith)
    answer = client.get(URL, {"q": core.tag}, headers={"HX-Request": "true"})
    assert answer.headers["HX-Redirect"] == f"/estate/cores/{core.pk}/"


def test_a_foreign_tag_leads_nowhere(client: Client, cast: Cast) -> None:
    (core,) = furnish(cast)
    client.force_login(cast.stranger)
    answer = client.get(URL, {"q": core.tag})
    assert answer.status_code == 200
    assert str(core.pk) not in answer.content.decode()


def test_a_building_narrows_the_doors(client: Client, cast: Cast) -> None:
    door, other = make_door(cast.north, number="X-12"), make_door(cast.north, number="Y-13")
    client.force_login(cast.locksmith)
    page = shown(client, building=door.building.pk)
    assert door.number in page
    assert other.number not in page


def test_a_foreign_or_broken_place_narrows_nothing(client: Client, cast: Cast) -> None:
    door, foreign = make_door(cast.north, number="X-12"), make_door(cast.south)
    client.force_login(cast.locksmith)
    for query in ({"building": foreign.building.pk}, {"site": cast.south.pk}, {"site": "nonsense"}):
        assert door.number in shown(client, **query)


def test_cautions_stand_as_words(client: Client, cast: Cast) -> None:
    make_door(cast.north, is_egress=True, is_fire_rated=True)
    client.force_login(cast.locksmith)
    assert "Egress, fire-rated" in shown(client)


def test_the_figures_count_doors_and_cores(client: Client, cast: Cast) -> None:
    furnish(cast, 2)
    make_housing(cast.north)
    make_core(actor=cast.locksmith, site=cast.north, system=make_system(cast.north, actor=cast.locksmith))
    furnish(cast, 1, cast.south)
    client.force_login(cast.auditor)
    figures = client.get(URL).context["figures"]
    assert (figures.doors, figures.in_housings, figures.empty_housings, figures.free) == (3, 2, 1, 1)


def test_an_empty_estate_says_what_will_stand_here(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    assert "No doors yet" in shown(client)


def test_htmx_gets_only_the_list(client: Client, cast: Cast) -> None:
    make_door(cast.north, number="X-12")
    client.force_login(cast.locksmith)
    page = client.get(URL, {"q": "x"}, headers={"HX-Request": "true"}).content.decode()
    assert "X-12" in page
    assert "<html" not in page


def test_the_query_count_does_not_grow_with_the_rows(
    client: Client, cast: Cast, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    furnish(cast, 2)
    client.force_login(cast.locksmith)
    with django_assert_num_queries(20) as few:
        shown(client)
    furnish(cast, 6)
    with django_assert_num_queries(len(few.captured_queries)):
        shown(client)


def test_the_pager_keeps_the_words_and_the_place(client: Client, cast: Cast) -> None:
    floor = make_door(cast.north, number="X-000").floor
    for number in range(1, 30):
        make_door(floor=floor, number=f"X-{number:03}")
    client.force_login(cast.locksmith)
    page = shown(client, q="x-", building=floor.building.pk)
    assert f"?q=x-&amp;building={floor.building.pk}&amp;page=2" in page


def test_a_person_without_any_role_may_not_look(client: Client, cast: Cast) -> None:
    client.force_login(make_user("nobody"))
    make_site("EAST")
    assert client.get(URL).status_code == 403
