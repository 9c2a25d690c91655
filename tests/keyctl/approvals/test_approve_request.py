import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError
from django.test import Client
from django.utils import timezone

from keyctl.approvals import access, services
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.selectors import waiting_for
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Turn
from keyctl.keys.models import Holder, Person
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import BuildingManager
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate, post, statuses


@pytest.fixture
def asked(estate: Estate) -> KeyRequest:
    """One key opens both doors; it is no master, so that one decision suffices."""
    one, two, both = estate.key("AA1"), estate.key("AA2"), estate.key("XAA3")
    return estate.ask(estate.door(one, both), estate.door(two, both))


def test_only_a_manager_of_the_building_approves(estate: Estate, asked: KeyRequest) -> None:
    """422: let in, and told to choose one of the proposals."""
    people = dict.fromkeys(estate.cast.everybody, 403) | {"manager": 422, "stranger": 404}
    assert statuses(estate.cast, "approve", asked.pk, "post") == people


def test_a_manager_of_another_building_is_forbidden(estate: Estate, asked: KeyRequest) -> None:
    BuildingManager.objects.update(building=estate.other_floor.building)
    with pytest.raises(PermissionDenied):
        access.decidable_request(estate.cast.manager, asked.pk)


def test_being_named_for_the_building_without_the_role_decides_nothing(
    estate: Estate, asked: KeyRequest
) -> None:
    BuildingManager.objects.create(building=estate.building, user=estate.cast.officer)
    with pytest.raises(PermissionDenied):
        access.decidable_request(estate.cast.officer, asked.pk)
    assert list(waiting_for(estate.cast.officer)) == []


def test_each_key_of_the_proposal_is_granted(estate: Estate, asked: KeyRequest) -> None:
    request = estate.approve(asked)
    assert (request.state, request.decided_by) == ("approved", estate.cast.manager)
    grants = {(grant.symbol.symbol, grant.is_master) for grant in request.grants.all()}
    assert grants == {("XAA3", False)}


def test_history_names_the_keys(estate: Estate, asked: KeyRequest) -> None:
    request = estate.approve(asked)
    event = history_of(request)[0]
    assert event.verb == "request.approved"
    assert event.sentence == "approved the request of Requester: XAA3 for Holder One"


def test_the_page_approves_the_chosen_proposal(estate: Estate, asked: KeyRequest, client: Client) -> None:
    (proposal,) = proposals_for(asked)
    facts = {"proposal": proposal.key, "version": asked.version, "note": "Bring it back."}
    assert post(client, estate.cast.manager, "approve", asked.pk, **facts).status_code == 302
    asked.refresh_from_db()
    assert (asked.state, asked.decision_note) == ("approved", "Bring it back.")


def test_nobody_decides_their_own_request(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    with pytest.raises(Refused, match=r"You asked for this key yourself\. Another manager"):
        estate.approve(request)


def test_nobody_decides_a_key_for_themselves(estate: Estate) -> None:
    own = factories.make_holder(estate.cast.north, user=estate.cast.manager)
    request = estate.ask(estate.door(estate.key("AA1")), holder=own)
    with pytest.raises(Refused, match=r"This key is for you\. Another manager"):
        estate.approve(request)


def test_the_page_says_so_to_the_manager_who_asked(estate: Estate, client: Client) -> None:
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    (proposal,) = proposals_for(request)
    facts = {"proposal": proposal.key, "version": request.version}
    response = post(client, estate.cast.manager, "approve", request.pk, **facts)
    assert response.status_code == 422
    assert "You asked for this key yourself." in response.content.decode()


def test_the_database_itself_forbids_deciding_ones_own_request(asked: KeyRequest) -> None:
    own = KeyRequest.objects.filter(pk=asked.pk)
    with pytest.raises(IntegrityError, match="nobody_decides_their_own_request"):
        own.update(state="approved", decided_by=asked.requester, decided_at=timezone.now())


def test_the_database_itself_forbids_deciding_a_key_for_oneself(estate: Estate) -> None:
    own = factories.make_holder(estate.cast.north, user=estate.cast.manager)
    request = estate.ask(estate.door(estate.key("AA1")), holder=own)
    with pytest.raises(IntegrityError, match="nobody_decides_a_key_for_themselves"):
        KeyRequest.objects.filter(pk=request.pk).update(
            state="approved", decided_by=estate.cast.manager, decided_at=timezone.now()
        )


def test_a_decision_on_an_old_page_is_not_taken(estate: Estate, asked: KeyRequest) -> None:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    estate.approve(asked)
    with pytest.raises(Conflict, match=r"Manager already approved this request\. Look at the request again"):
        estate.approve(asked, actor=second)


def test_an_old_page_shows_the_request_as_it_is_now(
    estate: Estate, asked: KeyRequest, client: Client
) -> None:
    (proposal,) = proposals_for(asked)
    services.withdraw_request(actor=estate.cast.requester, request=asked)
    facts = {"proposal": proposal.key, "version": asked.version}
    response = post(client, estate.cast.manager, "approve", asked.pk, **facts)
    assert response.status_code == 422
    assert "Requester withdrew this request." in response.content.decode()
    assert 'name="proposal"' not in response.content.decode()


def test_keys_that_are_not_proposed_are_not_given(estate: Estate, asked: KeyRequest) -> None:
    with pytest.raises(Conflict, match="no longer proposed"):
        services.approve_request(
            actor=estate.cast.manager, request=asked, version=asked.version, proposal="0" * 20
        )


def test_a_key_that_opens_more_than_the_page_showed_is_not_given(
    estate: Estate, asked: KeyRequest, client: Client
) -> None:
    (shown,) = proposals_for(asked)
    master = shown.symbols[0]
    estate.door(master)
    Turn.objects.exclude(symbol=master).delete()
    (proposal,) = proposals_for(asked)
    assert proposal.symbols == shown.symbols
    facts = {"proposal": shown.key, "version": asked.version}
    response = post(client, estate.cast.manager, "approve", asked.pk, **facts)
    assert response.status_code == 422
    assert "no longer proposed" in response.content.decode()


def test_a_holder_who_no_longer_receives_keys_is_not_approved(estate: Estate, asked: KeyRequest) -> None:
    type(estate.holder).objects.filter(pk=estate.holder.pk).update(is_active=False)
    asked = KeyRequest.objects.get(pk=asked.pk)
    with pytest.raises(Refused, match=r"no longer receives keys\. Refuse the request"):
        estate.approve(asked)


@pytest.mark.parametrize("tied", ["before", "after", "by address"])
def test_nobody_approves_for_the_person_they_are(estate: Estate, tied: str) -> None:
    """Holders that a directory tied to a person stand for the person's sign-in, whenever that was."""
    manager = estate.cast.manager
    person = Person.objects.create(display_name="M.", user=manager)
    if tied == "before":
        Holder.objects.filter(pk=estate.holder.pk).update(person=person)
    request = estate.ask(estate.door(estate.key("AA1")), holder=Holder.objects.get(pk=estate.holder.pk))
    if tied == "after":
        Holder.objects.filter(pk=estate.holder.pk).update(person=person)
    if tied == "by address":
        Holder.objects.filter(pk=estate.holder.pk).update(email="M@example.org")
        manager.email = "m@example.org"
        manager.save(update_fields=["email"])
    with pytest.raises(Refused, match="This key is for you"):
        estate.choose(KeyRequest.objects.get(pk=request.pk))


def test_a_key_for_oneself_is_for_the_holder_that_the_directory_tied(estate: Estate) -> None:
    person = Person.objects.create(display_name="R.", user=estate.cast.requester)
    Holder.objects.filter(pk=estate.holder.pk).update(person=person)
    request = estate.ask(estate.door(estate.key("AA1")), holder=None)
    assert (request.holder, request.holder_user) == (estate.holder, estate.cast.requester)
    assert not Holder.objects.filter(user=estate.cast.requester).exists()
