import pytest
from django.test import Client

from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from tests.keyctl.approvals.estate import Estate, page, post, statuses


@pytest.fixture
def asked(estate: Estate) -> KeyRequest:
    return estate.ask(estate.door(estate.key("AA1")))


def test_only_who_asked_withdraws(estate: Estate, asked: KeyRequest) -> None:
    people = dict.fromkeys(estate.cast.everybody, 403) | {"requester": 302, "stranger": 404}
    assert statuses(estate.cast, "withdraw", asked.pk, "post") == people


def test_it_waits_for_nobody_any_more(estate: Estate, asked: KeyRequest) -> None:
    request = services.withdraw_request(actor=estate.cast.requester, request=asked)
    assert (request.state, request.version) == ("withdrawn", asked.version + 1)
    assert history_of(request)[0].sentence == f"withdrew the request for {estate.building}"


def test_another_persons_request_is_not_withdrawn(estate: Estate, asked: KeyRequest) -> None:
    with pytest.raises(Refused, match="Requester asked for this key; only they withdraw"):
        services.withdraw_request(actor=estate.cast.officer, request=asked)


def test_a_refused_request_is_not_withdrawn(estate: Estate, asked: KeyRequest) -> None:
    facts = {"actor": estate.cast.manager, "request": asked, "version": asked.version}
    services.refuse_request(**facts, note="No.")  # type: ignore[arg-type]
    with pytest.raises(Refused, match=r"Manager already refused this request\. It can no longer"):
        services.withdraw_request(actor=estate.cast.requester, request=asked)


def test_a_key_in_somebodys_hand_is_brought_back_instead(estate: Estate) -> None:
    request = estate.approve(estate.ask(estate.door(estate.key("AA1")), estate.door(estate.key("BB1"))))
    estate.hand_out(request.grants.order_by("symbol__symbol")[0])
    with pytest.raises(Refused, match="Some of the keys are collected already"):
        services.withdraw_request(actor=estate.cast.requester, request=request)


def test_the_page_offers_it_only_while_asked_and_only_to_who_asked(
    estate: Estate, asked: KeyRequest, client: Client
) -> None:
    words = "Withdraw the request"
    assert words in page(client, estate.cast.requester, "detail", asked.pk)
    assert words not in page(client, estate.cast.manager, "detail", asked.pk)
    post(client, estate.cast.requester, "withdraw", asked.pk)
    assert words not in page(client, estate.cast.requester, "detail", asked.pk)
