"""What whoever asked reads: every step with who and when, what is waited for, where and until when."""

from datetime import timedelta

from django.test import Client
from django.utils import timezone

from keyctl.approvals.journal import journal_of
from keyctl.approvals.models import KeyRequest, RequestSettings
from keyctl.approvals.services import withdraw_request
from keyctl.approvals.services.ending import tidy
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from tests.keyctl.approvals.estate import Estate, page
from tests.keyctl.approvals.test_make_ready import approved, ready_since, take


def told(request: KeyRequest, *, names_all: bool = False) -> list[tuple[str, str, str]]:
    request = KeyRequest.objects.get(pk=request.pk)
    return [(line.what, line.state, line.who) for line in journal_of(request, names_all=names_all)]


def words(request: KeyRequest, what: str) -> str:
    request = KeyRequest.objects.get(pk=request.pk)
    return next(line.words for line in journal_of(request, names_all=False) if line.what == what)


def test_a_master_goes_through_two_decisions(estate: Estate) -> None:
    request = estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))))
    assert told(request) == [
        ("Asked", "Done", "Requester"),
        ("Decision: The building’s people", "Approved", "Manager"),
        ("Decision: A security officer", "Waiting", "Officer"),
        ("Keys made ready", "Later", ""),
        ("Keys collected", "Later", ""),
    ]
    assert words(request, "Decision: A security officer").startswith("An answer is expected by")


def test_a_site_may_keep_the_names_of_deciders(estate: Estate, client: Client) -> None:
    RequestSettings.objects.create(site=estate.cast.north, names_deciders=False)
    request = estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))))
    assert [who for _, _, who in told(request)[1:3]] == ["The building’s people", "A security officer"]
    assert [who for _, _, who in told(request, names_all=True)[1:3]] == ["Manager", "Officer"]
    text = page(client, estate.cast.requester, "detail", request.pk)
    assert "A security officer" in text
    assert "Manager<" not in text
    assert "Officer<" not in text


def test_partly_ready_is_said(estate: Estate) -> None:
    stocked, lacking = estate.key("AA1"), estate.key("BB1")
    estate.stock(stocked)
    request = approved(estate, stocked, lacking)
    assert words(request, "Keys made ready") == "1 of 2 keys are ready. Being cut: 1."
    orders.cut_line(actor=estate.cast.locksmith, line=OrderLine.objects.get())
    assert ("Keys made ready", "Done", "Key desk") in told(request)


def test_where_from_when_and_until_when_keys_are_collected(estate: Estate) -> None:
    RequestSettings.objects.create(site=estate.cast.north, collect_at="House A, 8 to 16", collect_days=5)
    key = estate.key("AA1")
    estate.stock(key)
    today = timezone.localdate()
    request = approved(estate, key, starts_on=today, needed_until=today + timedelta(days=9))
    said = words(request, "Keys collected")
    assert said.startswith("House A, 8 to 16 From ")
    assert "They lie there until" in said
    assert f"Due back on {today + timedelta(days=9):%-d %b %Y}." in said
    RequestSettings.objects.update(collect_at="")
    take(estate, request)
    assert told(request)[-1] == ("Keys collected", "Done", "Desk")


def test_how_it_ended(estate: Estate) -> None:
    withdrawn = estate.ask(estate.door(estate.key("AA1")))
    withdraw_request(actor=estate.cast.requester, request=withdrawn)
    assert told(withdrawn)[1:] == [
        ("Decision: The building’s people", "Not needed any more", ""),
        ("Ended", "Withdrawn", ""),
    ]
    key = estate.key("BB1")
    estate.stock(key)
    lapsed = approved(estate, key)
    ready_since(lapsed, 99)
    tidy(timezone.now())
    assert told(lapsed)[-1] == ("Ended", "Not collected", "")
    assert "went back into stock" in words(lapsed, "Ended")


def test_the_asker_reads_it_and_no_key(estate: Estate, client: Client) -> None:
    key = estate.key("SECRET-7")
    estate.stock(key)
    request = approved(estate, key)
    text = page(client, estate.cast.requester, "detail", request.pk)
    assert "How far it has come" in text
    assert "Ready to collect" in text
    assert "SECRET-7" not in text
    assert "Withdraw the request" in text
    take(estate, request)
    assert "Withdraw the request" not in page(client, estate.cast.requester, "detail", request.pk)
