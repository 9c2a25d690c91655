"""Columns that a person chooses, the order of rows, and views that are kept and shared."""

import re

import pytest
from django.test import Client

from keyctl.audit.models import Event
from keyctl.listing.models import ListChoice, SavedView
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.orders.workshop import Workshop

ORDERS, DOORS = "/orders/", "/estate/"


def text(client: Client, url: str, **said: str) -> str:
    answer = client.get(url, said, follow=True)
    assert answer.status_code == 200
    return answer.content.decode()


def headings(page: str) -> list[str]:
    head = page.split("<thead>")[1].split("</thead>", maxsplit=1)[0]
    return [re.sub("<[^>]+>", "", cell).strip() for cell in re.findall(r"<th.*?</th>", head)]


def numbers(page: str) -> list[str]:
    return re.findall(r'<th scope="row"[^>]*><a [^>]*>([^<]+)</a>', page)


def as_person(client: Client, user: object) -> Client:
    client.force_login(user)  # type: ignore[arg-type]
    return client


def keep(client: Client, name: str, query: str = "", *, of: str = "orders", site: str = "") -> SavedView:
    sent = {"name": name, "shared_with": site}
    assert client.post(f"/lists/{of}/views/keep/?{query}", sent).status_code == 302
    return SavedView.objects.get(name=name)


def choose(client: Client, order: list[str], shown: list[str], **button: str) -> str:
    sent = {"order": order, "shown": shown, **button}
    return client.post("/lists/orders/columns/", sent).content.decode()


def test_a_person_sees_the_columns_they_chose_in_their_order(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    as_person(client, shop.smith)
    choose(client, ["state", "order", "opened"], ["state", "order", "opened"])
    assert headings(text(client, ORDERS)) == ["Chosen", "State", "Order", "Opened"]
    as_person(client, shop.cast.auditor)
    assert headings(text(client, ORDERS))[:2] == ["Order", "For"]


def test_what_names_the_row_cannot_be_left_out(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    as_person(client, shop.smith)
    choose(client, ["title"], ["title"])
    assert headings(text(client, ORDERS)) == ["Chosen", "For", "Order"]


def test_columns_move_without_a_script_and_nothing_is_kept_before_it_is_said(
    client: Client, shop: Workshop
) -> None:
    as_person(client, shop.smith)
    page = choose(client, ["order", "title", "site"], ["order", "title"], up="site")
    moved = re.findall(r'name="order" value="(\w+)"', page)
    assert moved[:3] == ["order", "site", "title"]
    assert not ListChoice.objects.exists()


def test_the_usual_columns_come_back(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    as_person(client, shop.smith)
    choose(client, ["state"], ["state"])
    choose(client, ["state"], ["state"], usual="1")
    assert len(headings(text(client, ORDERS))) == 9


def test_a_column_sorts_and_says_so(client: Client, shop: Workshop) -> None:
    orders = [shop.pin_order() for _ in range(3)]
    days = ["2030-03-03", "2030-01-01", "2030-02-02"]
    for order, day in zip(orders, days, strict=True):
        WorkOrder.objects.filter(pk=order.pk).update(due_on=day)
    as_person(client, shop.smith)
    up, down = text(client, ORDERS, sort="due"), text(client, ORDERS, sort="-due")
    wanted = [
        f"Order {order.number}" for _, order in sorted(zip(days, orders, strict=True), key=lambda p: p[0])
    ]
    assert numbers(up) == wanted
    assert numbers(down) == wanted[::-1]
    assert 'aria-sort="ascending"' in up
    assert 'aria-sort="descending"' in down
    assert "?sort=-due" in up


def test_a_word_that_is_no_column_sorts_nothing(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    as_person(client, shop.smith)
    assert "aria-sort" not in text(client, ORDERS, sort="opened_by__password")


def test_a_view_brings_filters_columns_and_order_back(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    shop.swap_order()
    as_person(client, shop.smith)
    choose(client, ["order", "kind"], ["order", "kind"])
    view = keep(client, "Bench", "kind=pin&sort=-order")
    choose(client, ["order"], ["order"], usual="1")
    answer = client.get(ORDERS, {"view": str(view.pk)})
    assert answer.headers["Location"] == f"/orders/?kind=pin&sort=-order&view={view.pk}"
    page = text(client, ORDERS, view=str(view.pk))
    assert headings(page) == ["Chosen", "Order", "Work"]
    assert len(numbers(page)) == 1


def test_a_list_opens_with_the_view_that_was_chosen(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    shop.swap_order()
    as_person(client, shop.smith)
    view = keep(client, "Bench", "kind=pin")
    client.post(f"/lists/views/{view.pk}/open-with/")
    assert len(numbers(text(client, ORDERS))) == 1
    assert len(numbers(text(client, ORDERS, view="all"))) == 2
    client.post("/lists/orders/views/open-whole/")
    assert len(numbers(text(client, ORDERS))) == 2


def test_the_same_name_replaces_and_another_name_renames(client: Client, shop: Workshop) -> None:
    as_person(client, shop.smith)
    keep(client, "Mine", "whose=mine")
    view = keep(client, "Mine", "whose=nobody")
    assert view.words == {"whose": "nobody"}
    client.post(f"/lists/views/{view.pk}/", {"name": "Free work", "shared_with": ""})
    view.refresh_from_db()
    assert view.name == "Free work"
    client.post(f"/lists/views/{view.pk}/remove/")
    assert not SavedView.objects.exists()
    assert list(
        Event.objects.filter(verb__startswith="view.").order_by("pk").values_list("verb", flat=True)
    ) == [
        "view.kept",
        "view.kept",
        "view.changed",
        "view.removed",
    ]


def test_a_shared_view_is_for_the_staff_of_its_site_alone(client: Client, shop: Workshop) -> None:
    cast = shop.cast
    as_person(client, shop.smith)
    view = keep(client, "Bench row", "kind=pin", site=str(cast.north.pk))
    for name, sees in (("auditor", True), ("manager", True), ("stranger", False)):
        reader = as_person(Client(), cast.everybody[name])
        assert ("Bench row" in text(reader, ORDERS)) is sees
        status = reader.post(f"/lists/views/{view.pk}/open-with/").status_code
        assert status == (302 if sees else 404)
    as_person(client, cast.auditor)
    assert client.post(f"/lists/views/{view.pk}/remove/").status_code == 404
    assert client.post(f"/lists/views/{view.pk}/", {"name": "Theirs"}).status_code == 404


def test_nobody_shares_where_they_have_no_role(client: Client, shop: Workshop) -> None:
    as_person(client, shop.smith)
    sent = {"name": "Ours", "shared_with": str(shop.cast.south.pk)}
    assert client.post("/lists/orders/views/keep/", sent).status_code == 422
    assert not SavedView.objects.exists()


def test_a_shared_view_shows_no_more_than_the_readers_own_roles(client: Client, cast: Cast) -> None:
    """It names a building of the south, which its reader may not see: neither its doors nor its name."""
    both = factories.make_user("both", site=cast.north, role=Role.AUDITOR)
    Membership.objects.create(user=both, site=cast.south, role=Role.AUDITOR)
    south = factories.make_door(cast.south, number="S-1")
    factories.make_door(cast.north, number="N-1")
    as_person(client, both)
    view = keep(client, "Far", f"building={south.building.pk}", of="doors", site=str(cast.north.pk))
    assert "S-1" in text(client, DOORS, view=str(view.pk))
    as_person(client, cast.locksmith)
    page = text(client, DOORS, view=str(view.pk)) + text(client, "/lists/doors/views/")
    assert "S-1" not in page
    assert south.building.name not in page
    assert "not here for you any more" in page
    assert "N-1" in page  # and it still works


def test_a_view_that_names_what_is_gone_says_so_and_still_works(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    as_person(client, shop.smith)
    view = keep(client, "Old", "kind=pin&sort=due")
    SavedView.objects.filter(pk=view.pk).update(
        words={"kind": "welding"}, columns=["order", "colour"], sort="colour"
    )
    page = text(client, ORDERS, view=str(view.pk))
    assert "names something that is not there" in page
    assert "a column that the list no longer has" in page
    assert headings(page) == ["Chosen", "Order"]
    assert len(numbers(page)) == 1


def test_the_table_that_is_taken_holds_to_the_view(client: Client, shop: Workshop) -> None:
    shop.pin_order()
    shop.swap_order()
    as_person(client, shop.smith)
    view = keep(client, "Bench", "kind=pin")
    page = text(client, ORDERS, view=str(view.pk))
    address = re.search(r'formaction="(/exports/[^"]+)"[^>]*value="csv"', page)
    assert address
    taken = client.post(address[1].replace("&amp;", "&"), {"form": "csv"}).content.decode()
    assert len(taken.strip().splitlines()) == 2
    assert ",pin," in taken


def test_a_list_that_one_may_not_read_has_no_columns_either(client: Client, cast: Cast) -> None:
    as_person(client, cast.requester)
    for page in ("columns", "views", "views/keep"):
        assert client.get(f"/lists/doors/{page}/").status_code == 403
    assert client.get("/lists/nothing/columns/").status_code == 404
    assert client.get("/lists/requests/columns/").status_code == 200


@pytest.mark.parametrize("page", ["/estate/", "/estate/cores/", "/orders/", "/keys/", "/keys/register/"])
def test_keeping_what_the_list_shows_leads_back_to_the_list(client: Client, cast: Cast, page: str) -> None:
    as_person(client, cast.administrator)
    found = re.search(r'href="/lists/(\w+)/views/keep/\?([^"]*)"', text(client, page))
    assert found
    view = keep(client, "Here", found[2].replace("&amp;", "&"), of=found[1])
    assert client.get(page, {"view": str(view.pk)}, follow=True).status_code == 200
