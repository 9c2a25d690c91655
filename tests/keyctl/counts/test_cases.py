"""A difference is explained, set right by an act of custody, and closed; a weighty one by a second person."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.counts import services
from keyctl.counts.models import CountCase
from keyctl.counts.selectors.cases import is_proposed_lost, proposed_as_lost
from keyctl.counts.services.cases import ways_out
from keyctl.keys import services as keys
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict, Refused
from tests.keyctl.counts.countroom import CountRoom


def explain(room: CountRoom, case: CountCase, how: str, **facts: object) -> CountCase:
    words = {"note": "Asked around."} | facts
    return services.explain_case(actor=room.desk, case=case, how=how, **words)  # type: ignore[arg-type]


def state_of(case: CountCase) -> tuple[str, object]:
    assert case.copy_id
    copy = KeyCopy.objects.get(pk=case.copy_id)
    return copy.state, copy.cabinet or copy.holder


def test_an_overlooked_key_stays_where_it_is(room: CountRoom) -> None:
    case = explain(room, room.missing(), "overlooked")
    assert state_of(case) == ("in-cabinet", room.cabinet)
    assert (case.state, case.explained_by) == ("explained", room.desk)
    assert history_of(case)[0].verb == "count.explained"


def test_a_key_that_hangs_elsewhere_is_moved_by_an_act_of_custody(room: CountRoom) -> None:
    case = explain(room, room.missing(), "moved", cabinet=room.other)
    assert state_of(case) == ("in-cabinet", room.other)
    assert case.copy is not None
    assert history_of(case.copy).filter(verb="key.moved").exists()


def test_a_held_key_found_in_the_cabinet_is_taken_back(room: CountRoom) -> None:
    held = room.give(room.stock(1)[0])
    count = room.begin()
    room.scan(count, held)
    room.close(count)
    case = explain(room, CountCase.objects.get(count=count), "returned", cabinet=room.cabinet)
    assert state_of(case) == ("in-cabinet", room.cabinet)


def test_a_lost_copy_that_turned_up_is_taken_in(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    keys.report_lost(actor=room.desk, copy=copy)
    count = room.begin()
    room.scan(count, copy)
    room.close(count)
    case = explain(room, CountCase.objects.get(count=count), "found", cabinet=room.cabinet)
    assert state_of(case) == ("in-cabinet", room.cabinet)


def test_a_missing_key_is_reported_lost_by_a_person(room: CountRoom) -> None:
    case = explain(room, room.missing(), "lost")
    assert state_of(case) == ("lost", None)


def test_an_explanation_says_how_and_fits_the_difference(room: CountRoom) -> None:
    case = room.missing()
    with pytest.raises(Refused, match="Say how it came about"):
        explain(room, case, "overlooked", note=" ")
    with pytest.raises(Refused, match="does not explain"):
        explain(room, case, "not-ours")
    with pytest.raises(Refused, match="into which cabinet"):
        explain(room, case, "moved")


def test_a_refused_correction_leaves_the_case_open(room: CountRoom) -> None:
    case = room.missing()
    with pytest.raises(Refused, match=r"is in .* already"):
        explain(room, case, "moved", cabinet=room.cabinet)
    case.refresh_from_db()
    assert case.state == "open"


def test_an_auditor_settles_nothing(room: CountRoom) -> None:
    with pytest.raises(PermissionDenied):
        services.explain_case(actor=room.cast.auditor, case=room.missing(), how="overlooked", note="I say so")


def test_a_case_is_explained_before_it_is_closed(room: CountRoom) -> None:
    with pytest.raises(Refused, match="Nobody has explained"):
        services.close_case(actor=room.desk, case=room.missing())


def test_the_counter_closes_the_case_of_an_ordinary_key(room: CountRoom) -> None:
    case = explain(room, room.missing(), "overlooked")
    assert services.close_case(actor=room.desk, case=case).closed_by == room.desk


def test_the_counter_does_not_close_the_case_of_a_master(room: CountRoom) -> None:
    case = explain(room, room.missing(room.master), "overlooked")
    assert case.is_weighty
    with pytest.raises(Refused, match="Somebody else closes its case"):
        services.close_case(actor=room.desk, case=case)
    assert services.close_case(actor=room.cast.officer, case=case).state == "closed"


def test_a_case_is_closed_once(room: CountRoom) -> None:
    case = explain(room, room.missing(), "overlooked")
    services.close_case(actor=room.desk, case=case)
    with pytest.raises(Conflict, match="has closed this case already"):
        services.close_case(actor=room.cast.officer, case=case)


def test_an_old_page_does_not_settle_a_case(room: CountRoom) -> None:
    case = room.missing()
    explain(room, case, "overlooked")
    with pytest.raises(Conflict, match="Somebody else worked on this case"):
        services.close_case(actor=room.cast.officer, case=case, version=case.version)


def test_an_explanation_that_does_not_hold_opens_it_again(room: CountRoom) -> None:
    case = explain(room, room.missing(), "overlooked")
    opened = services.reopen_case(actor=room.cast.officer, case=case)
    assert (opened.state, opened.how, opened.explained_by) == ("open", "", None)


def test_a_missing_key_is_proposed_as_lost_after_the_days_of_the_rule(room: CountRoom) -> None:
    room.rule(missing_days=5)
    case, now = room.missing(), timezone.now()
    assert not is_proposed_lost(case, now + timedelta(days=4, hours=23))
    assert is_proposed_lost(case, now + timedelta(days=5, hours=1))
    assert list(proposed_as_lost(room.site, now + timedelta(days=6))) == [case]
    assert state_of(case) == ("in-cabinet", room.cabinet)


def test_an_explained_key_is_not_proposed(room: CountRoom) -> None:
    case = explain(room, room.missing(), "overlooked")
    assert not is_proposed_lost(case, timezone.now() + timedelta(days=99))


def test_acts_of_custody_are_offered_to_those_who_may_do_them(room: CountRoom) -> None:
    case = room.missing()
    assert ways_out(room.desk, case) == ["overlooked", "moved", "desk", "lost"]
    assert ways_out(room.cast.officer, case) == ["overlooked", "desk", "lost"]
    assert ways_out(room.cast.locksmith, case) == ["overlooked", "desk"]


def test_cuts_in_an_explanation_are_refused(room: CountRoom) -> None:
    case = room.missing()
    with pytest.raises(Refused, match="cuts of a key"):
        services.explain_case(actor=room.desk, case=case, how="overlooked", note="Cut 1234567, in a drawer.")
