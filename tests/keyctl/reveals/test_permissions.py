"""Asking a second person, deciding, taking it back; and who is told."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl.accounts.fresh import SignInAgain
from keyctl.audit.selectors import history_of
from keyctl.keys.reveal import cuts_to_show
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.reveals.models import Permission
from keyctl.reveals.services import ask_for_more, ask_to_see, decline, grant, withdraw_permission
from keyctl.systems.services import bitting_of
from tests import factories
from tests.keyctl.reveals.bench import Bench
from tests.permits import permit
from tests.signing import proven

WHY = "The master of the house was lost"
YES: dict[str, Any] = {"minutes": 120, "decision": "To cut it anew"}


def ask(bench: Bench, name: str = "A", actor: Any = None, reason: str = WHY) -> Permission:
    return ask_to_see(actor=actor or bench.smith, secret=cuts_to_show(bench.key(name)), reason=reason)


def test_it_waits_and_names_what_is_asked_for(bench: Bench) -> None:
    asked = ask(bench)
    assert asked.words == f"the cuts of master key A ({bench.system.code})"
    assert (asked.state, asked.site, asked.until) == ("asked", bench.site, None)
    assert history_of(asked)[0].sentence == f"asked to see {asked.words}: {WHY}"


def test_every_officer_of_the_site_is_told_but_who_asked(bench: Bench) -> None:
    second = bench.second()
    Membership.objects.create(user=bench.cast.officer, site=bench.site, role=Role.LOCKSMITH)
    asked = ask(bench, actor=bench.cast.officer)
    told = Notice.objects.filter(kind="permission")
    assert [notice.name for notice in told] == [second.display_name]
    assert asked.words in told[0].body
    assert f"/reveals/{asked.pk}/" in told[0].body
    assert bitting_of(bench.key("A")) not in told[0].body


@pytest.mark.parametrize("reason", ["", "  "])
def test_it_wants_a_reason(bench: Bench, reason: str) -> None:
    with pytest.raises(Refused, match="Say why"):
        ask(bench, reason=reason)


def test_it_is_asked_for_once_at_a_time(bench: Bench) -> None:
    ask(bench)
    with pytest.raises(Conflict, match="asked for this already"):
        ask(bench)
    same = Permission.objects.values().get() | {"id": uuid4()}
    with pytest.raises(IntegrityError), transaction.atomic():
        Permission.objects.create(**same)


@pytest.mark.parametrize("name", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_who_may_not_see_it_may_not_ask(bench: Bench, name: str) -> None:
    with pytest.raises(PermissionDenied):
        ask(bench, actor=bench.cast.everybody[name])
    with pytest.raises(Http404):
        ask(bench, actor=bench.cast.stranger)


def test_granted_it_says_by_whom_why_and_until_when(bench: Bench) -> None:
    asked = ask(bench)
    officer = bench.cast.officer
    done = grant(actor=officer, permission=asked, sign_in=proven(officer), **YES)
    assert (done.state, done.decided_by, done.decision) == ("granted", officer, "To cut it anew")
    assert done.until is not None
    assert done.decided_at is not None
    assert done.until - done.decided_at <= timedelta(hours=2)
    assert done.is_open
    told = Notice.objects.get(name="Locksmith")
    assert told.subject.startswith("You may look")
    assert "To cut it anew" in told.body


def test_declined_it_tells_why(bench: Bench) -> None:
    done = decline(actor=bench.cast.officer, permission=ask(bench), decision="It hangs on its hook")
    assert (done.state, done.is_open, done.until) == ("declined", False, None)
    assert "It hangs on its hook" in Notice.objects.get(name="Locksmith").body
    assert ask(bench).state == "asked"


def test_nobody_decides_what_they_asked_for(bench: Bench) -> None:
    officer = bench.cast.officer
    Membership.objects.create(user=officer, site=bench.site, role=Role.LOCKSMITH)
    asked = ask(bench, actor=officer)
    with pytest.raises(Refused, match="You asked for this yourself"):
        grant(actor=officer, permission=asked, sign_in=proven(officer), **YES)
    with pytest.raises(Refused, match="You asked for this yourself"):
        decline(actor=officer, permission=asked, decision="No")


def test_nor_does_the_database_let_them(bench: Bench) -> None:
    permission = permit("key", bench.key("A"), to=bench.smith, by=bench.cast.officer)
    with pytest.raises(IntegrityError), transaction.atomic():
        Permission.objects.filter(pk=permission.pk).update(decided_by=bench.smith)


@pytest.mark.parametrize(
    "name", ["locksmith", "desk", "manager", "auditor", "requester", "administrator", "stranger"]
)
def test_only_officers_of_the_site_decide(bench: Bench, name: str) -> None:
    asked, person = ask(bench), bench.cast.everybody[name]
    with pytest.raises((PermissionDenied, Http404)):
        grant(actor=person, permission=asked, sign_in=proven(person), **YES)
    with pytest.raises((PermissionDenied, Http404)):
        decline(actor=person, permission=asked, decision="No")
    asked.refresh_from_db()
    assert asked.state == "asked"


def test_a_yes_takes_a_fresh_sign_in_of_the_officer(bench: Bench) -> None:
    asked = ask(bench)
    with pytest.raises(SignInAgain):
        grant(actor=bench.cast.officer, permission=asked, sign_in=proven(bench.smith), **YES)


@pytest.mark.parametrize("minutes", [0, -30, 31, 100_000])
def test_only_for_one_of_the_times_on_offer(bench: Bench, minutes: int) -> None:
    officer = bench.cast.officer
    with pytest.raises(Refused, match="for how long"):
        grant(
            actor=officer, permission=ask(bench), sign_in=proven(officer), minutes=minutes, decision="Because"
        )


def test_a_decision_wants_a_reason_and_stands(bench: Bench) -> None:
    asked = ask(bench)
    with pytest.raises(Refused, match="Say why"):
        decline(actor=bench.cast.officer, permission=asked, decision=" ")
    decline(actor=bench.cast.officer, permission=asked, decision="No")
    with pytest.raises(Conflict, match="declined already"):
        decline(actor=bench.cast.officer, permission=asked, decision="No")


def test_who_asked_takes_it_back_and_so_does_an_officer(bench: Bench) -> None:
    asked = ask(bench)
    assert withdraw_permission(actor=bench.smith, permission=asked).state == "withdrawn"
    with pytest.raises(Conflict, match="withdrawn already"):
        withdraw_permission(actor=bench.smith, permission=asked)
    granted = permit("key", bench.key("AA"), to=bench.smith, by=bench.cast.officer)
    assert not withdraw_permission(actor=bench.cast.officer, permission=granted).is_open


@pytest.mark.parametrize("name", ["desk", "auditor", "administrator", "stranger"])
def test_nobody_else_takes_it_back(bench: Bench, name: str) -> None:
    asked = ask(bench)
    with pytest.raises((PermissionDenied, Http404)):
        withdraw_permission(actor=bench.cast.everybody[name], permission=asked)


def test_more_than_the_quota_is_a_number_within_bounds(bench: Bench) -> None:
    facts: dict[str, Any] = {"actor": bench.smith, "site": bench.site, "reason": WHY}
    assert ask_for_more(count=500, **facts).words == "500 more at North site"
    for count in (0, -1, 501):
        with pytest.raises(Refused, match="1 to 500"):
            ask_for_more(count=count, **facts)
    with pytest.raises(PermissionDenied):
        ask_for_more(count=1, **(facts | {"actor": bench.cast.desk}))


def test_a_key_of_two_sites_is_asked_about_where_the_person_works(bench: Bench) -> None:
    shared = factories.make_system(bench.site, bench.cast.south, actor=bench.cast.administrator)
    secret = cuts_to_show(factories.symbol(shared, "A"))
    assert ask_to_see(actor=bench.cast.stranger, secret=secret, reason=WHY).site == bench.cast.south


def test_what_ended_before_it_began_to_be_used_is_open_to_nobody(bench: Bench) -> None:
    assert Permission().ends_at is None
    assert not Permission(state=Permission.State.GRANTED).is_open
    assert str(ask(bench)).endswith("asked by Locksmith")
