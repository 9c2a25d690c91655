"""Decisions after the first: whose they are, that two people decide, and what ends a right in between."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, connection
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals import access, services
from keyctl.approvals.models import KeyRequest, Step, Substitute
from keyctl.approvals.proposals import Proposal, as_chosen, proposals_for
from keyctl.approvals.ruling import rules_mark
from keyctl.approvals.waiting import own_decisions
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Turn
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import BuildingManager, Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.approvals.estate import Estate, page, post

TODAY = timezone.localdate()


@pytest.fixture
def chosen(estate: Estate) -> KeyRequest:
    """A master that the manager chose; a security officer decides next."""
    return estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))))


def a_manager(estate: Estate, name: str = "second") -> User:
    user = factories.make_user(name, site=estate.cast.north, role=Role.MANAGER)
    BuildingManager.objects.create(building=estate.building, user=user)
    return user


def stand_in(estate: Estate, person: User, other: User) -> Substitute:
    return services.name_substitute(
        actor=estate.cast.administrator,
        site=estate.cast.north,
        person=person,
        stands_in=other,
        since=TODAY,
        until=TODAY,
    )


def test_a_master_waits_for_an_officer_after_the_manager(estate: Estate, chosen: KeyRequest) -> None:
    first, second = chosen.steps.all()
    assert (chosen.state, first.state, first.decided_by) == ("asked", "approved", estate.cast.manager)
    assert (second.who, second.why, second.is_current) == ("officer", "AA is a master key.", True)
    assert [step.request for step in own_decisions(estate.cast.officer)] == [chosen]


def test_the_last_decision_approves_the_request(estate: Estate, chosen: KeyRequest) -> None:
    request = estate.agree(chosen, estate.cast.officer)
    assert request.decided_by == estate.cast.officer
    assert request.state != "asked"
    assert [step.state for step in request.steps.all()] == ["approved", "approved"]


def test_history_tells_each_step(estate: Estate, chosen: KeyRequest) -> None:
    event = history_of(chosen)[0]
    assert event.verb == "request.step_approved"
    assert event.sentence == (
        "approved one step of the request of Requester: AA for Holder One. Next: A security officer"
    )


def test_an_officer_who_decided_as_manager_does_not_decide_again(estate: Estate) -> None:
    both = a_manager(estate)
    Membership.objects.create(user=both, site=estate.cast.north, role=Role.OFFICER)
    request = estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))), actor=both)
    with pytest.raises(Refused, match=r"You decided an earlier step of this request\. It takes two people"):
        estate.agree(request, both)
    assert estate.agree(request, estate.cast.officer).decided_by == estate.cast.officer


def test_the_database_itself_forbids_deciding_both_steps(estate: Estate, chosen: KeyRequest) -> None:
    with pytest.raises(IntegrityError, match=r"steps_apart|decided_by"):
        chosen.steps.filter(ordinal=2).update(
            state="approved", decided_by=estate.cast.manager, decided_at=timezone.now()
        )


def test_a_substitute_decides_in_somebodys_place_and_history_says_so(estate: Estate) -> None:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    stand_in(estate, estate.cast.manager, second)
    request = estate.choose(estate.ask(estate.door(estate.key("AA1"))), actor=second)
    step = request.steps.get()
    assert (step.decided_by, step.for_person) == (second, estate.cast.manager)
    events = [event.sentence for event in history_of(request) if event.verb == "request.approved"]
    assert events == ["approved the request of Requester: AA1 for Holder One (in the place of Manager)"]


def test_nobody_decides_for_whom_they_stand_in(estate: Estate) -> None:
    second = a_manager(estate)
    stand_in(estate, estate.cast.manager, second)
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    with pytest.raises(Refused, match="Manager asks for it or gets it, and you stand in for them"):
        estate.choose(request, actor=second)


def test_nobody_decides_for_their_own_substitute(estate: Estate) -> None:
    second = a_manager(estate)
    stand_in(estate, estate.cast.manager, second)
    request = estate.ask(estate.door(estate.key("AA1")), actor=second)
    with pytest.raises(Refused, match="Second asks for it or gets it, and stands in for you"):
        estate.choose(request)


def test_a_substitution_that_ended_meanwhile_decides_nothing(estate: Estate) -> None:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    row = stand_in(estate, estate.cast.manager, second)
    request = estate.ask(estate.door(estate.key("AA1")))
    assert access.decidable_request(second, request.pk) == request
    services.end_substitute(actor=estate.cast.manager, substitute=row)
    with pytest.raises(Refused, match="You no longer stand in for Manager"):
        estate.choose(request, actor=second)
    with pytest.raises(PermissionDenied):
        access.decidable_request(second, request.pk)


def test_a_role_that_ended_meanwhile_decides_nothing(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    Membership.objects.filter(user=estate.cast.manager).update(role=Role.KEY_DESK)
    with pytest.raises(Refused, match=r"You may not decide this step, or no longer\."):
        estate.choose(request)


def test_of_two_on_one_page_the_second_is_told_who_was_first(estate: Estate) -> None:
    second = a_manager(estate)
    request = estate.ask(estate.door(estate.key("AA", is_master=True)))
    version = request.version
    estate.choose(request)
    with pytest.raises(Conflict, match=r"Manager already approved a step of this request\. Look"):
        services.refuse_request(actor=second, request=request, version=version, note="No.")


def test_keys_that_open_other_doors_than_shown_are_not_approved(estate: Estate, chosen: KeyRequest) -> None:
    shown = as_chosen(chosen)
    assert shown is not None
    estate.door(shown.symbols[0])
    with pytest.raises(Conflict, match="no longer open the doors that the page showed"):
        services.approve_step(
            actor=estate.cast.officer, request=chosen, version=chosen.version, keys=shown.key
        )


def test_a_key_that_was_retired_meanwhile_is_not_approved(estate: Estate, chosen: KeyRequest) -> None:
    KeySymbol.objects.filter(symbol="AA").update(retired_at=timezone.now())
    with pytest.raises(Refused, match="AA was retired after a loss"):
        estate.agree(chosen, estate.cast.officer)


def test_rules_that_changed_since_the_page_was_shown_are_looked_at_again(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    facts = {"version": request.version, "proposal": proposals_for(request)[0].key}
    facts["rules"] = rules_mark(estate.cast.north)
    services.add_rule(
        actor=estate.cast.administrator, site=estate.cast.north, when="always", who="officer", silent_hours=1
    )
    with pytest.raises(Conflict, match="The approval rules of North site changed while you looked"):
        services.approve_request(actor=estate.cast.manager, request=request, **facts)  # type: ignore[arg-type]
    facts["rules"] = rules_mark(estate.cast.north)
    request = services.approve_request(actor=estate.cast.manager, request=request, **facts)  # type: ignore[arg-type]
    assert [step.who for step in request.steps.all()] == ["building", "officer"]


def test_steps_that_were_made_stay_when_rules_change(estate: Estate, chosen: KeyRequest) -> None:
    admin = estate.cast.administrator
    services.write_rules_down(actor=admin, site=estate.cast.north)
    for rule in estate.cast.north.approval_rules.exclude(when="always"):
        services.remove_rule(actor=admin, rule=rule)
    assert estate.agree(chosen, estate.cast.officer).steps.count() == 2


def test_refusing_a_later_step_gives_no_key(estate: Estate, chosen: KeyRequest) -> None:
    request = services.refuse_request(
        actor=estate.cast.officer, request=chosen, version=chosen.version, note="Too far."
    )
    assert (request.state, request.grants.count()) == ("refused", 0)
    assert [step.state for step in request.steps.all()] == ["approved", "refused"]


def test_an_approval_after_the_request_was_withdrawn_is_told_so(estate: Estate, chosen: KeyRequest) -> None:
    services.withdraw_request(actor=estate.cast.requester, request=chosen)
    with pytest.raises(Conflict, match=r"Requester withdrew this request\."):
        estate.agree(chosen, estate.cast.officer)


def test_the_officer_sees_the_effect_and_approves_on_one_page(
    estate: Estate, chosen: KeyRequest, client: Client
) -> None:
    estate.door(estate.key("AB", is_master=True))
    text = page(client, estate.cast.officer, "detail", chosen.pk)
    assert "Beyond those asked" in text
    assert "Approve these keys" in text
    shown = as_chosen(chosen)
    assert shown is not None
    response = post(client, estate.cast.officer, "approve", chosen.pk, keys=shown.key, version=chosen.version)
    assert response.status_code == 302
    assert KeyRequest.objects.get(pk=chosen.pk).decided_by == estate.cast.officer


def test_the_manager_sees_who_decides_next_and_why(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA", is_master=True)))
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "Then decides: a security officer.</strong> AA is a master key. It takes two people." in text


def test_the_page_counts_what_the_holder_opens_before_and_after(estate: Estate, client: Client) -> None:
    held = estate.key("AB1")
    estate.door(held), estate.door(held)
    estate.hand_out(estate.approve(estate.ask(estate.door(held))).grants.get())
    request = estate.ask(estate.door(estate.key("AA1")))
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "3 doors now, 4 with this key: 1 more" in text


def test_doors_are_counted_by_class_with_those_nobody_asked_for(estate: Estate, client: Client) -> None:
    key = estate.key("AA1")
    request = estate.ask(estate.door(key))
    for door in (estate.door(key), estate.door(key), estate.door(key)):
        type(door).objects.filter(pk=door.pk).update(door_class="critical")
    text = page(client, estate.cast.manager, "detail", request.pk)
    assert "<strong>3 critical</strong> (3 not asked for), 1 ordinary" in text
    assert "The keys open 3 critical doors." in text


def test_the_requester_learns_of_no_key_from_the_decisions(
    estate: Estate, chosen: KeyRequest, client: Client
) -> None:
    text = page(client, estate.cast.requester, "detail", chosen.pk)
    assert '<li aria-current="step">Decided by: a security officer</li>' in text
    assert "master" not in text.lower()
    assert "AA" not in text.replace("AAAA", "")


def test_who_decided_any_step_of_a_master_does_not_hand_it_out(estate: Estate, chosen: KeyRequest) -> None:
    step = chosen.steps.first()
    assert step is not None
    with pytest.raises(IntegrityError, match="who_decides_a_step_does_not_hand_its_master_out"):
        Step.objects.filter(pk=step.pk).update(master_out_by=estate.cast.manager)


def test_a_turned_core_that_only_withdraws_is_no_door_opened(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")))
    proposal = proposals_for(request)[0]
    Turn.objects.update(operates=False, withdraws=True)
    with pytest.raises(Conflict, match="no longer proposed"):
        services.approve_request(
            actor=estate.cast.manager, request=request, version=request.version, proposal=proposal.key
        )


def test_a_step_waits_the_hours_of_its_rule(estate: Estate, chosen: KeyRequest) -> None:
    step = chosen.steps.get(ordinal=2)
    assert step.since is not None
    assert step.due_at == step.since + timedelta(hours=24)


def test_keys_are_worked_out_for_nobody_who_is_refused(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    monkeypatch.setattr("keyctl.approvals.services.deciding.proposals_for", lambda _: pytest.fail("asked"))
    with pytest.raises(Refused, match="You asked for this key yourself"):
        services.approve_request(
            actor=estate.cast.manager, request=request, version=request.version, proposal="0" * 20
        )


@pytest.mark.django_db(transaction=True)
def test_keys_are_worked_out_before_anything_is_held(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    """The choice takes up to seconds; on SQLite nobody else writes while a transaction does."""
    held = []

    def watched(request: KeyRequest) -> list[Proposal]:
        held.append(connection.in_atomic_block)
        return proposals_for(request)

    monkeypatch.setattr("keyctl.approvals.services.deciding.proposals_for", watched)
    estate.approve(estate.ask(estate.door(estate.key("AA1"))))
    assert held == [False]
