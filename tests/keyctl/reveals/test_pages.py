"""The pages of looks: each to its people, and none of them with a bitting."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.reveals import access
from keyctl.reveals.models import Permission, Reveal
from keyctl.systems.services import bitting_of
from tests.keyctl.reveals.bench import Bench
from tests.permits import permit
from tests.signing import sign_in

WHY = {"reason": "The master of the house was lost"}
YES = {"minutes": "120", "decision": "To cut it anew"}


def url(name: str, *args: Any) -> str:
    return reverse(f"reveals:{name}", args=args)


def asked(bench: Bench, client: Client, name: str = "A") -> Permission:
    sign_in(client, bench.smith)
    client.post(url("ask", "key", bench.key(name).pk), WHY)
    return Permission.objects.get()


HOME = {
    "locksmith": 200,
    "desk": 403,
    "manager": 403,
    "officer": 200,
    "auditor": 200,
    "requester": 403,
    "administrator": 200,
    "stranger": 200,
}


@pytest.mark.parametrize(("name", "status"), HOME.items())
def test_who_has_a_page_of_looks(bench: Bench, client: Client, name: str, status: int) -> None:
    sign_in(client, bench.cast.everybody[name])
    assert client.get(url("home")).status_code == status


def test_a_refused_look_leads_to_asking_and_a_grant_leads_back(bench: Bench, client: Client) -> None:
    key, officer = bench.key("A"), Client()
    sign_in(client, bench.smith)
    refused = client.post(reverse("keys:drawing", args=[key.pk]))
    ask = url("ask", "key", key.pk)
    assert ask in refused.content.decode()
    page = client.get(ask).content.decode()
    assert "This takes two people" in page
    answer = client.post(ask, WHY)
    permission = Permission.objects.get()
    assert answer.headers["Location"] == url("permission", permission.pk)

    sign_in(officer, bench.cast.officer)
    assert permission.words in officer.get(url("home")).content.decode()
    assert "Grant it" in officer.get(url("permission", permission.pk)).content.decode()
    assert officer.post(url("grant", permission.pk), YES).headers["Location"] == url("home")
    standing = officer.get(url("home")).context["standing"]
    assert [each.pk for each in standing] == [permission.pk]

    mine = client.get(url("permission", permission.pk)).content.decode()
    assert reverse("cores:symbol", args=[key.pk]) in mine
    assert client.get(url("home")).context["open"][0] == permission
    shown = client.post(reverse("keys:drawing", args=[key.pk]))
    assert bitting_of(key) in shown.content.decode()
    for address in (url("home"), url("permission", permission.pk)):
        assert bitting_of(key) not in client.get(address).content.decode()


def test_an_old_sign_in_shows_nothing_and_leads_to_a_new_one(bench: Bench, client: Client) -> None:
    bench.order()
    sign_in(client, bench.smith, ago=301)
    answer = client.post(reverse("cores:pinning", args=[bench.core.pk]))
    assert answer.status_code in {302, 303}
    assert not Reveal.objects.exists()
    sign_in(client, bench.smith)
    assert client.post(reverse("cores:pinning", args=[bench.core.pk])).status_code == 200


@pytest.mark.parametrize(
    "address",
    [
        "cores:pinning",
        "keys:drawing",
        "exposure:near",
        "orders:bench-stacks",
        "prints:pinning-sheet",
        "recovery:show",
        "jobs:file",
    ],
)
def test_nothing_is_shown_by_a_get(bench: Bench, client: Client, address: str) -> None:
    """405 comes of the address alone, before anything is fetched."""
    sign_in(client, bench.smith)
    assert client.get(reverse(address, args=[bench.core.pk])).status_code in {404, 405}
    assert not Reveal.objects.exists()


def test_an_officer_declines_and_says_why(bench: Bench, client: Client) -> None:
    permission = asked(bench, client)
    sign_in(client, bench.cast.officer)
    assert client.post(url("decline", permission.pk), {"decision": ""}).status_code == 422
    assert client.post(url("decline", permission.pk), {"decision": "No"}).status_code == 302
    sign_in(client, bench.smith)
    page = client.get(url("permission", permission.pk)).content.decode()
    assert "Declined" in page
    assert "Go there" not in page


def test_a_grant_without_a_reason_comes_back(bench: Bench, client: Client) -> None:
    permission = asked(bench, client)
    sign_in(client, bench.cast.officer)
    answer = client.post(url("grant", permission.pk), YES | {"decision": ""})
    assert answer.status_code == 422
    assert answer.context["grant"].errors


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("locksmith", 403),
        ("desk", 403),
        ("manager", 403),
        ("auditor", 403),
        ("administrator", 403),
        ("requester", 403),
        ("stranger", 404),
    ],
)
def test_nobody_but_an_officer_decides(bench: Bench, client: Client, name: str, status: int) -> None:
    permission = asked(bench, client)
    sign_in(client, bench.cast.everybody[name])
    assert client.post(url("grant", permission.pk), YES).status_code == status
    assert client.post(url("decline", permission.pk), {"decision": "No"}).status_code == status


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("locksmith", 200),
        ("officer", 200),
        ("auditor", 200),
        ("administrator", 200),
        ("desk", 403),
        ("stranger", 404),
    ],
)
def test_who_reads_a_permission(bench: Bench, client: Client, name: str, status: int) -> None:
    permission = asked(bench, client)
    sign_in(client, bench.cast.everybody[name])
    answer = client.get(url("permission", permission.pk))
    assert answer.status_code == status
    if name != "officer" and status == 200:
        assert "Grant it" not in answer.content.decode()


def test_who_asked_takes_it_back_from_its_page(bench: Bench, client: Client) -> None:
    permission = asked(bench, client)
    assert "I do not need it any more" in client.get(url("permission", permission.pk)).content.decode()
    assert client.post(url("withdraw", permission.pk)).status_code == 302
    permission.refresh_from_db()
    assert permission.state == "withdrawn"


@pytest.mark.parametrize("kind", ["", "nothing", "more"])
def test_what_nobody_registered_cannot_be_asked_about(bench: Bench, client: Client, kind: str) -> None:
    sign_in(client, bench.smith)
    assert client.get(f"/reveals/ask/{kind or 'x'}/{bench.core.pk}/").status_code == 404


def test_asking_without_a_reason_comes_back(bench: Bench, client: Client) -> None:
    sign_in(client, bench.smith)
    assert client.post(url("ask", "key", bench.key("A").pk), {"reason": ""}).status_code == 422
    assert client.post(url("ask", "core", bench.core.pk), WHY).status_code == 302


def test_a_stranger_cannot_ask_about_a_thing(bench: Bench, client: Client) -> None:
    sign_in(client, bench.cast.stranger)
    assert client.get(url("ask", "key", bench.key("A").pk)).status_code == 404
    assert client.get(url("more", bench.site.pk)).status_code == 404


def test_more_is_asked_for_and_stands_on_the_page(bench: Bench, client: Client) -> None:
    sign_in(client, bench.smith)
    assert client.get(url("more", bench.site.pk)).status_code == 200
    assert client.post(url("more", bench.site.pk), WHY | {"count": "501"}).status_code == 422
    assert client.post(url("more", bench.site.pk), WHY | {"count": "40"}).status_code == 302
    permission = Permission.objects.get()
    sign_in(client, bench.cast.officer)
    client.post(url("grant", permission.pk), YES)
    sign_in(client, bench.smith)
    page = client.get(url("permission", permission.pk))
    assert page.context["thing_url"] == ""
    assert "40 more at North site" in client.get(url("home")).content.decode()


def test_the_list_of_looks_tells_who_what_when_and_on_what_ground(bench: Bench, client: Client) -> None:
    order = bench.order()
    bench.look()
    permit("key", bench.key("A"), to=bench.smith, by=bench.cast.officer)
    secret = bench.look_at("A")
    sign_in(client, bench.cast.auditor)
    page = client.get(url("register"))
    text = page.content.decode()
    assert page.context["page"].paginator.count == 2
    for words in (
        str(bench.core),
        f"for order {order.number}",
        "master key A",
        "Officer",
        "Gave it themselves",
    ):
        assert words in text
    assert secret not in text
    only = client.get(url("register"), {"only": "high"}).context["page"].object_list
    assert [seen.is_high for seen in only] == [True]
    own = client.get(url("register"), {"only": "own"}).context["page"].object_list
    assert [seen.is_own_work for seen in own] == [True]


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("locksmith", 403),
        ("desk", 403),
        ("manager", 403),
        ("officer", 200),
        ("administrator", 200),
        ("requester", 403),
    ],
)
def test_who_reads_the_list(bench: Bench, client: Client, name: str, status: int) -> None:
    sign_in(client, bench.cast.everybody[name])
    assert client.get(url("register")).status_code == status


def test_another_site_s_looks_are_not_in_the_list(bench: Bench, client: Client) -> None:
    bench.order()
    bench.look()
    officer = bench.cast.officer
    officer.memberships.update(site=bench.cast.south)
    sign_in(client, officer)
    assert client.get(url("register")).context["page"].paginator.count == 0


def test_the_limits_are_set_by_an_administrator_alone(bench: Bench, client: Client) -> None:
    facts = {"version": "1", "alone_an_hour": "10", "alone_a_day": "30"}
    facts |= {"at_work_an_hour": "400", "at_work_a_day": "900"}
    sign_in(client, bench.cast.administrator)
    assert client.get(url("limits", bench.site.pk)).status_code == 200
    assert client.post(url("limits", bench.site.pk), facts | {"alone_a_day": "9"}).status_code == 422
    assert client.post(url("limits", bench.site.pk), facts).status_code == 302
    sign_in(client, bench.smith)
    assert client.get(url("home")).context["quotas"][0].alone.a_day == 30
    assert client.get(url("limits", bench.site.pk)).status_code == 403


@pytest.mark.parametrize("name", ["desk", "manager", "requester"])
def test_the_rule_behind_the_pages_says_the_same(bench: Bench, name: str) -> None:
    with pytest.raises(PermissionDenied):
        access.visited_sites(bench.cast.everybody[name])
    with pytest.raises(PermissionDenied):
        access.readable_reveals(bench.cast.everybody[name])


def test_a_person_who_lost_the_role_still_reads_what_they_asked_for(bench: Bench, client: Client) -> None:
    permission = permit("key", bench.key("A"), to=bench.smith, by=bench.cast.officer)
    bench.smith.memberships.update(role="key-desk")
    sign_in(client, bench.smith)
    page = client.get(url("permission", permission.pk))
    assert page.status_code == 200
    assert page.context["thing_url"] == ""
