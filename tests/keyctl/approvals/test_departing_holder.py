"""A holder leaves: what was asked for them ends, whoever asked is told, and nobody decides it any more."""

import pytest

from keyctl.approvals.models import KeyRequest
from keyctl.approvals.waiting import own_decisions
from keyctl.audit.selectors import history_of
from keyctl.keys.services import deactivate_holder
from keyctl.lib.errors import Conflict
from keyctl.notices.models import Notice
from tests.keyctl.approvals.estate import Estate

ENDED = "Holder One no longer receives keys, so the request ended by itself."


def test_open_requests_end_with_a_sentence_and_settled_ones_stay(estate: Estate) -> None:
    asked, chosen, refused = (estate.ask(estate.door(estate.key(f"AA{n}"))) for n in range(3))
    KeyRequest.objects.filter(pk=refused.pk).update(state="withdrawn", decision_note="Long ago.")
    estate.approve(chosen)
    deactivate_holder(actor=estate.cast.desk, holder=estate.holder)
    for request in (asked, chosen):
        request.refresh_from_db()
        assert (request.state, request.decision_note) == ("withdrawn", ENDED)
        assert history_of(request)[0].verb == "request.ended"
    refused.refresh_from_db()
    assert refused.decision_note == "Long ago."
    assert Notice.objects.filter(kind="requests.ended", name="Requester").count() == 2


def test_whoever_decides_too_late_is_told_why(estate: Estate) -> None:
    asked = estate.ask(estate.door(estate.key("AA1")))
    deactivate_holder(actor=estate.cast.desk, holder=estate.holder)
    assert list(own_decisions(estate.cast.manager)) == []
    with pytest.raises(Conflict, match=rf"^{ENDED} Look at the request again"):
        estate.choose(asked)


def test_what_was_set_aside_is_free_again(estate: Estate) -> None:
    key = estate.key("AA1")
    copy = estate.stock(key)
    ready = estate.approve(estate.ask(estate.door(key)))
    assert ready.grants.get().reserved_copy == copy
    deactivate_holder(actor=estate.cast.desk, holder=estate.holder)
    assert ready.grants.get().reserved_copy is None
