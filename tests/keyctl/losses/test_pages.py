"""The pages of a loss: who sees what, acts from report to end, and a page of doors that counts no rows."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.losses import calling
from keyctl.losses.models import LossCase, LossRule
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.services import bitting_of
from tests import factories
from tests.keyctl.losses.estate import Estate


@pytest.fixture
def case(estate: Estate) -> LossCase:
    estate.door("AA1", number="S-117")
    estate.door("AA1", number="S-118", door_class="critical")
    return estate.lose(estate.held("AA1"))


def page(client: Client, name: str, *args: object, **query: str) -> str:
    answer = client.get(reverse(f"losses:{name}", args=args), query)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("role", ["locksmith", "desk", "manager", "officer", "auditor", "administrator"])
def test_the_house_reads_a_case_without_cuts(
    estate: Estate, case: LossCase, client: Client, role: str
) -> None:
    client.force_login(estate.cast.everybody[role])
    told = "".join(page(client, name, case.pk) for name in ("detail", "doors", "holders"))
    assert "S-117" in told
    assert bitting_of(estate.key("AA1")) not in told


def test_an_auditor_reads_and_has_nothing_to_press_but_look_and_print(
    estate: Estate, case: LossCase, client: Client
) -> None:
    client.force_login(estate.cast.auditor)
    told = page(client, "detail", case.pk)
    for name in ("close", "note", "prove", "join", "cancel"):
        assert reverse(f"losses:{name}", args=[case.pk]) not in told


def test_doors_are_narrowed_and_counted(estate: Estate, case: LossCase, client: Client) -> None:
    client.force_login(estate.cast.officer)
    told = page(client, "doors", case.pk, door_class="critical")
    assert "S-118" in told
    assert "S-117" not in told
    assert "1 to 1 of 1" in told
    assert "No door like this" in page(client, "doors", case.pk, route="incidental")
    assert "S-117" in page(client, "doors", case.pk, building="nonsense")


def test_the_page_of_doors_asks_the_same_of_the_database_for_many_doors(
    estate: Estate, case: LossCase, client: Client
) -> None:
    client.force_login(estate.cast.officer)
    page(client, "doors", case.pk)
    with CaptureQueriesContext(connection) as few:
        page(client, "doors", case.pk)
    for _ in range(8):
        estate.door("AA1")
    client.post(reverse("losses:look", args=[case.pk]))
    with CaptureQueriesContext(connection) as more:
        told = page(client, "doors", case.pk)
    assert "1 to 10 of 10" in told
    assert len(more) == len(few)


def test_doors_of_other_sites_are_counted_and_not_named(
    estate: Estate, case: LossCase, client: Client
) -> None:
    estate.system.sites.add(estate.cast.south)
    estate.door("AA1", number="FAR-1", floor=factories.make_floor(estate.cast.south))
    client.force_login(estate.cast.officer)
    client.post(reverse("losses:look", args=[case.pk]))
    told = page(client, "doors", case.pk)
    assert "FAR-1" not in told
    assert "At other sites: 1 more core" in told
    far = factories.make_user(site=estate.cast.south, role=Role.OFFICER)
    client.force_login(far)
    assert "FAR-1" in page(client, "doors", case.pk)
    assert "S-117" not in page(client, "doors", case.pk)
    assert client.post(reverse("losses:close", args=[case.pk])).status_code == 404


def test_what_is_shown_as_now_is_asked_at_the_moment(estate: Estate, case: LossCase, client: Client) -> None:
    client.force_login(estate.cast.officer)
    open_now, shut = (
        'data-label="Now"><span class="tag tag-bad"',
        'data-label="Now"><span class="tag tag-good"',
    )
    assert page(client, "doors", case.pk).count(open_now) == 2
    estate.key("AA1").turns.filter(core__housing__door__number="S-117").delete()
    told = page(client, "doors", case.pk)
    assert (told.count(open_now), told.count(shut)) == (1, 1)


def test_the_case_tells_where_its_figures_are_of_yesterday(
    estate: Estate, case: LossCase, client: Client
) -> None:
    client.force_login(estate.cast.officer)
    assert "At this moment" not in page(client, "detail", case.pk)
    estate.key("AA1").turns.filter(core__housing__door__number="S-117").delete()
    assert "At this moment a lost key works 1 core." in page(client, "detail", case.pk)


def test_from_a_holders_own_report_to_the_end(estate: Estate, client: Client) -> None:
    holder = factories.make_holder(estate.cast.north, user=estate.cast.requester)
    copy = estate.held("AA1", holder)
    client.force_login(estate.cast.requester)
    own = client.get(reverse("keys:holder", args=[holder.pk])).content.decode()
    assert reverse("losses:own", args=[copy.pk]) in own
    client.post(reverse("losses:own", args=[copy.pk]), {"note": "Left on a tram", "where": "Tram 4"})

    client.force_login(estate.cast.desk)
    report = copy.loss_reports.get()
    assert reverse("losses:report", args=[report.pk]) in page(client, "list")
    client.post(reverse("losses:confirm", args=[report.pk]), {"answer": "We looked as well"})
    case = LossCase.objects.get()
    assert "Tram 4" in page(client, "detail", case.pk)
    client.post(reverse("losses:note", args=[case.pk]), {"kind": "told", "text": "The porter"})

    client.force_login(estate.cast.officer)
    case.refresh_from_db()
    client.post(reverse("losses:prove", args=[case.pk]), {"version": case.version})
    case.refresh_from_db()
    answer = client.post(
        reverse("losses:close", args=[case.pk]), {"version": case.version, "outcome": "Nothing opens"}
    )
    case.refresh_from_db()
    assert answer.status_code == 302
    assert (case.state, case.outcome) == ("closed", "Nothing opens")


def test_a_refused_act_shows_the_case_again_with_the_reason(
    estate: Estate, case: LossCase, client: Client
) -> None:
    client.force_login(estate.cast.officer)
    answer = client.post(
        reverse("losses:close", args=[case.pk]), {"version": case.version, "outcome": "Enough"}
    )
    assert answer.status_code == 422
    assert "No proof shows" in answer.content.decode()


@pytest.mark.parametrize("few", [1000, 0], ids=["few doors", "many doors"])
def test_holders_of_keys_to_doors_that_are_due_are_called(
    few: int, estate: Estate, case: LossCase, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calling, "FEW_DOORS", few)
    holder = factories.make_holder(estate.cast.north, name="Mona Field")
    bystander = factories.make_holder(estate.cast.north, name="Otto Vale")
    estate.held("AA", holder)
    estate.held("AB1", bystander)
    client.force_login(estate.cast.desk)
    told = page(client, "holders", case.pk)
    assert "Mona Field" in told
    assert "Otto Vale" not in told
    client.post(reverse("losses:call", args=[case.pk]), {"holder": holder.pk, "text": "Comes on Friday"})
    assert "Comes on Friday" in page(client, "holders", case.pk)


@pytest.mark.parametrize(("role", "may"), [("officer", True), ("administrator", True), ("desk", False)])
def test_rules_are_set_by_officers_and_administrators(
    estate: Estate, client: Client, role: str, may: bool
) -> None:
    client.force_login(estate.cast.everybody[role])
    address = reverse("losses:rule", args=[estate.cast.north.pk])
    told = page(client, "rules")
    assert "starting set, ours to be adapted" in told.lower()
    assert (address in told) is may
    shares = {"ordinary": "20", "restricted": "5", "critical": "0"}
    seen = '{"ordinary": 100, "restricted": 50, "critical": 0}'
    answer = client.post(address, {**shares, "seen": seen})
    assert answer.status_code == (302 if may else 403)
    assert LossRule.objects.filter(door_class="ordinary", share=200).exists() is may
    if may:
        late = client.post(address, {**shares, "ordinary": "30", "seen": seen})
        assert late.status_code == 422
        assert "meanwhile" in late.content.decode()


def test_keys_past_their_limit_stand_on_a_page(estate: Estate, case: LossCase, client: Client) -> None:
    client.force_login(estate.cast.auditor)
    told = page(client, "limits")
    assert "AA1" in told
    assert str(case) in told


def test_a_requester_sees_no_losses(estate: Estate, case: LossCase, client: Client) -> None:
    Membership.objects.filter(user=estate.cast.requester).exclude(role=Role.REQUESTER).delete()
    client.force_login(estate.cast.requester)
    for name, args in (("list", []), ("detail", [case.pk]), ("doors", [case.pk])):
        assert client.get(reverse(f"losses:{name}", args=args)).status_code == 403
