from django.test import Client
from django.urls import reverse

from keyctl.approvals.models import KeyRequest
from keyctl.approvals.selectors import other_requests, waiting_for, waits_for, with_names
from keyctl.places.models import BuildingManager, Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate, page
from tests.keyctl.keys.keyroom import count_queries, rows_in


def test_a_manager_sees_first_what_they_may_decide_longest_waiting_first(estate: Estate) -> None:
    old, new = (estate.ask(estate.door(estate.key(name))) for name in ("AA1", "AA2"))
    estate.ask(factories.make_door(floor=estate.other_floor))
    own = estate.ask(estate.door(estate.key("AA3")), actor=estate.cast.manager)
    assert list(waiting_for(estate.cast.manager)) == [old, new]
    assert list(other_requests(estate.cast.manager)) == [own]


def test_a_key_for_the_manager_waits_for_another_one(estate: Estate) -> None:
    holder = factories.make_holder(estate.cast.north, user=estate.cast.manager)
    estate.ask(estate.door(estate.key("AA1")), holder=holder)
    assert list(waiting_for(estate.cast.manager)) == []


def test_the_desk_sees_first_what_it_hands_out(estate: Estate) -> None:
    asked = estate.ask(estate.door(estate.key("AA1")))
    approved = estate.approve(estate.ask(estate.door(estate.key("AA2"))))
    assert list(waiting_for(estate.cast.desk)) == [approved]
    assert list(other_requests(estate.cast.desk)) == [asked]


def test_a_requester_sees_their_own_and_nobody_elses(estate: Estate) -> None:
    own = estate.ask(estate.door(estate.key("AA1")))
    estate.ask(estate.door(estate.key("AA2")), actor=estate.cast.locksmith)
    assert list(other_requests(estate.cast.requester)) == [own]


def test_officer_auditor_and_administrator_see_all_of_the_site_and_a_stranger_none(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    for user in (estate.cast.officer, estate.cast.auditor, estate.cast.administrator):
        assert list(other_requests(user)) == [request]
    assert list(other_requests(estate.cast.stranger)) == []


def test_open_requests_stand_before_settled_ones(estate: Estate) -> None:
    open_one = estate.ask(estate.door(estate.key("AA1")))
    settled = estate.ask(estate.door(estate.key("AA2")))
    KeyRequest.objects.filter(pk=settled.pk).update(state="withdrawn")
    assert list(other_requests(estate.cast.auditor)) == [open_one, settled]


def row_of(request: KeyRequest) -> KeyRequest:
    return with_names(KeyRequest.objects.all()).get(pk=request.pk)


def test_it_says_whom_a_request_waits_for(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    assert waits_for(row_of(request)) == "Manager"
    assert waits_for(row_of(estate.approve(request))) == "the key desk"


def test_where_only_the_manager_who_asked_could_decide_officers_are_asked(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    assert waits_for(row_of(request)) == "Officer"


def test_without_anybody_who_may_decide_it_says_so(estate: Estate) -> None:
    Membership.objects.filter(role=Role.OFFICER).delete()
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    assert waits_for(row_of(request)) == "somebody who has yet to be named"


def test_the_page_shows_both_lists(estate: Estate, client: Client) -> None:
    estate.ask(estate.door(estate.key("AA1")))
    text = page(client, estate.cast.manager, "list")
    assert "Waiting for you" in text
    assert "Other requests" not in text
    assert "Waiting for you" not in page(client, estate.cast.requester, "list")


def test_an_empty_page_says_what_will_stand_there(estate: Estate, client: Client) -> None:
    assert "No requests" in page(client, estate.cast.requester, "list")


def test_the_number_of_queries_does_not_grow_with_the_rows(estate: Estate, client: Client) -> None:
    client.force_login(estate.cast.manager)
    url = reverse("approvals:list")
    BuildingManager.objects.create(building=estate.building, user=estate.cast.officer)

    def ask_twice(times: int) -> tuple[int, int]:
        for _ in range(times):
            estate.ask(factories.make_door(floor=estate.floor), factories.make_door(floor=estate.floor))
            holder = factories.make_holder(estate.cast.north)
            estate.ask(factories.make_door(floor=estate.floor), actor=estate.cast.manager, holder=holder)
        return rows_in(client, url), count_queries(client, url)

    few, many = ask_twice(1), ask_twice(7)
    assert many[0] == few[0] + 14
    assert many[1] == few[1]
