"""The page and the field: without scripts, and as HTMX asks for pieces of it."""

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.places.models import Door
from keyctl.search import services
from keyctl.search.models import Stale
from tests import factories
from tests.cast import Cast

URL = reverse("search:results")


@pytest.fixture
def door(cast: Cast) -> Door:
    return factories.make_door(cast.north, number="2.14", name="Reading room")


def as_locksmith(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.locksmith)
    return client


def test_every_signed_in_page_has_the_field_with_a_true_form(cast: Cast) -> None:
    page = as_locksmith(cast).get(reverse("orders:list"))
    form = page.content.decode().split('<form class="find"')[1].split("</form>")[0]
    assert f'action="{URL}"' in form
    assert 'role="combobox"' in form
    assert 'type="submit"' in form


def test_the_page_lists_what_was_found_with_its_address(cast: Cast, door: Door) -> None:
    page = as_locksmith(cast).get(URL, {"q": "reading"})
    assert f'href="{reverse("cores:door", args=[door.pk])}"' in page.content.decode()
    assert "1 thing has “reading”." in page.content.decode()


def test_what_is_typed_stands_in_the_page_as_text(cast: Cast) -> None:
    page = as_locksmith(cast).get(URL, {"q": "<b>x</b>"}).content.decode()
    assert "<b>x</b>" not in page
    assert "&lt;b&gt;x&lt;/b&gt;" in page


def test_while_typing_the_list_alone_is_sent(cast: Cast, door: Door) -> None:
    headers = {"HX-Request": "true", "HX-Target": "spine-hits"}
    piece = as_locksmith(cast).get(URL, {"q": "raeding"}, headers=headers).content.decode()
    assert "<html" not in piece
    assert f'id="find-door-{door.pk}" href="{reverse("cores:door", args=[door.pk])}"' in piece
    assert f'href="{URL}?q=raeding"' in piece


def test_a_whole_tag_leads_to_what_carries_it(cast: Cast, door: Door) -> None:
    page = reverse("cores:door", args=[door.pk])
    for typed in (door.tag, f"HTTP://127.0.0.1:8000/Q/{door.tag}"):
        assert as_locksmith(cast).get(URL, {"q": typed}).headers["Location"] == page
    assert as_locksmith(cast).get(URL, {"q": door.number}).status_code == 200


def test_nothing_found_teaches_and_tells_what_comes_near(cast: Cast, door: Door) -> None:
    page = as_locksmith(cast).get(URL, {"q": "reading cellar"}).content.decode()
    assert "Nothing has “reading cellar”" in page
    assert "Doors, Buildings, Cores" in page
    assert "These come near" in page
    assert reverse("cores:door", args=[door.pk]) in page


def test_without_a_query_the_page_says_what_can_be_searched(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.requester)
    page = client.get(URL).content.decode()
    assert "The search looks through, at your sites: Doors, Buildings." in page


def test_much_that_changed_at_once_is_told(cast: Cast, door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(services.bring_up_to_date, "__defaults__", (1,))
    page = as_locksmith(cast).get(URL, {"q": "reading"}).content.decode()
    assert Stale.objects.exists()
    assert "Much has changed at once" in page


@pytest.mark.parametrize("count", [1, 40])
def test_the_number_of_questions_does_not_grow(
    cast: Cast, count: int, django_assert_max_num_queries: object
) -> None:
    floor = factories.make_floor(cast.north)
    Door.objects.bulk_create(
        [Door(floor=floor, number=f"A{nth}", name="Reading room") for nth in range(count)]
    )
    client = as_locksmith(cast)
    client.get(URL, {"q": "reading room"})
    with django_assert_max_num_queries(40):  # type: ignore[operator]
        client.get(URL, {"q": "reading room"})
