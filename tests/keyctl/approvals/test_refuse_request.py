import pytest
from django.test import Client

from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from tests.keyctl.approvals.estate import Estate, page, post, statuses


@pytest.fixture
def asked(estate: Estate) -> KeyRequest:
    return estate.ask(estate.door(estate.key("AA1")))


def refuse(estate: Estate, request: KeyRequest, note: str = "Ask the caretaker.") -> KeyRequest:
    return services.refuse_request(
        actor=estate.cast.manager, request=request, version=request.version, note=note
    )


def test_only_a_manager_of_the_building_refuses(estate: Estate, asked: KeyRequest) -> None:
    """422: let in, and told to say why."""
    people = dict.fromkeys(estate.cast.everybody, 403) | {"manager": 422, "stranger": 404}
    assert statuses(estate.cast, "refuse", asked.pk, "post") == people


def test_it_gives_no_key_and_says_who_and_why(estate: Estate, asked: KeyRequest) -> None:
    request = refuse(estate, asked)
    assert (request.state, request.decided_by) == ("refused", estate.cast.manager)
    assert (request.decision_note, request.grants.count()) == ("Ask the caretaker.", 0)
    assert history_of(request)[0].sentence == "refused the request of Requester"


def test_a_note_is_needed(estate: Estate, asked: KeyRequest) -> None:
    with pytest.raises(Refused, match="Say why"):
        refuse(estate, asked, " ")


def test_nobody_refuses_their_own_request_either(estate: Estate) -> None:
    own = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    with pytest.raises(Refused, match="You asked for this key yourself"):
        refuse(estate, own)


def test_a_refused_request_is_not_refused_again(estate: Estate, asked: KeyRequest) -> None:
    refuse(estate, asked)
    with pytest.raises(Conflict, match="Manager already refused this request"):
        refuse(estate, asked)


def test_the_requester_reads_the_note(estate: Estate, asked: KeyRequest, client: Client) -> None:
    facts = {"version": asked.version, "note": "Ask the caretaker."}
    assert post(client, estate.cast.manager, "refuse", asked.pk, **facts).status_code == 302
    assert "Ask the caretaker." in page(client, estate.cast.requester, "detail", asked.pk)
