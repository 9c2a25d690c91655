"""Who may know of which door; one that somebody may not know of is as if it were not there."""

import uuid

import pytest
from django.test import Client

from keyctl.accounts.models import User
from keyctl.approvals import services
from keyctl.approvals.knowing import known_doors
from keyctl.approvals.models import KeyRequest, RequestSettings
from keyctl.keys import services as keys
from keyctl.keys.models import Holder, Person
from keyctl.keys.signing import Signature
from keyctl.lib.errors import Refused
from keyctl.places.models import Door
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.approvals.estate import Estate, post


def critical(estate: Estate, *keys: KeySymbol) -> Door:
    door = estate.door(*keys)
    door.door_class = Door.DoorClass.CRITICAL
    door.save()
    return door


def knows(user: User, door: Door) -> bool:
    return known_doors(user, door.site).filter(pk=door.pk).exists()


def hold(estate: Estate, key: KeySymbol, holder: Holder) -> None:
    keys.issue_keys(
        actor=estate.cast.desk, holder=holder, copies=[estate.stock(key)], signature=Signature("Somebody")
    )


def test_ordinary_and_restricted_doors_are_known_to_everybody_of_the_site(estate: Estate) -> None:
    ordinary, restricted = estate.door(), estate.door()
    Door.objects.filter(pk=restricted.pk).update(door_class=Door.DoorClass.RESTRICTED)
    for name, user in estate.cast.everybody.items():
        assert {knows(user, ordinary), knows(user, restricted)} == {name != "stranger"}


def test_a_critical_door_is_known_to_those_who_work_with_the_estate(estate: Estate) -> None:
    door = critical(estate, estate.key("AA1"))
    known = {name for name, user in estate.cast.everybody.items() if knows(user, door)}
    assert known == {"locksmith", "desk", "manager", "officer", "auditor", "administrator"}


def test_a_critical_door_is_known_to_who_holds_a_key_to_it(estate: Estate) -> None:
    key = estate.key("AA1")
    door, other = critical(estate, key), critical(estate, estate.key("AA2"))
    own = factories.make_holder(estate.cast.north, user=estate.cast.requester)
    assert not knows(estate.cast.requester, door)
    hold(estate, key, own)
    assert knows(estate.cast.requester, door)
    assert not knows(estate.cast.requester, other)


def test_a_key_that_only_withdraws_its_core_opens_no_door(estate: Estate) -> None:
    key = estate.key("AA1")
    door = estate.door(key, withdraws=True)
    Door.objects.filter(pk=door.pk).update(door_class=Door.DoorClass.CRITICAL)
    hold(estate, key, factories.make_holder(estate.cast.north, user=estate.cast.requester))
    assert not knows(estate.cast.requester, door)


@pytest.mark.parametrize("by_person", [False, True])
def test_a_critical_door_is_known_to_the_department_of_a_holder(estate: Estate, by_person: bool) -> None:
    key = estate.key("AA1")
    door = critical(estate, key)
    if by_person:
        person = Person.objects.create(display_name="R", department="Physics", user=estate.cast.requester)
        factories.make_holder(estate.cast.north, person=person)
    else:
        factories.make_holder(estate.cast.north, user=estate.cast.requester, department="Physics")
    hold(estate, key, factories.make_holder(estate.cast.north, department="Chemistry"))
    hold(estate, key, factories.make_holder(estate.cast.north, department=""))
    assert not knows(estate.cast.requester, door)
    hold(estate, key, factories.make_holder(estate.cast.north, department="Physics"))
    assert knows(estate.cast.requester, door)


def test_a_key_that_came_back_tells_of_no_door_any_more(estate: Estate) -> None:
    key = estate.key("AA1")
    door = critical(estate, key)
    hold(estate, key, factories.make_holder(estate.cast.north, user=estate.cast.requester))
    keys.return_keys(actor=estate.cast.desk, copies=[key.copies.get()], cabinet=estate.cabinet)
    assert not knows(estate.cast.requester, door)


@pytest.mark.parametrize(
    ("setting", "holds", "is_known"),
    [
        ("held", True, True),
        ("held", False, False),
        ("nobody", True, False),
        ("nobody", False, False),
        ("everybody", True, True),
        ("everybody", False, True),
    ],
)
def test_a_site_says_who_knows_of_critical_doors(
    estate: Estate, setting: str, holds: bool, is_known: bool
) -> None:
    key = estate.key("AA1")
    door = critical(estate, key)
    RequestSettings.objects.create(site=estate.cast.north, critical_doors=setting)
    if holds:
        hold(estate, key, factories.make_holder(estate.cast.north, user=estate.cast.requester))
    assert knows(estate.cast.requester, door) == is_known
    assert knows(estate.cast.auditor, door)
    assert not knows(estate.cast.stranger, door)


def test_an_unknown_door_answers_as_one_that_does_not_exist(estate: Estate, client: Client) -> None:
    """By the page's form, word for word; nothing of the door stands in the answer."""
    door = critical(estate, estate.key("AA1"))
    door.number, door.name = "S-99", "Strong room"
    door.save()
    answers = []
    for wanted in (str(door.pk), str(uuid.uuid4())):
        facts = {"doors": [wanted], "for_whom": "myself", "reason": "Stocktaking."}
        response = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts)
        assert response.status_code == 422
        text = response.content.decode()
        assert "A door that you chose is not there" in text
        assert "S-99" not in text
        assert "Strong" not in text
        token = text.index("csrfmiddlewaretoken")
        answers.append(text[:token] + text[text.index(">", token) :])
    assert len({len(answer) for answer in answers}) == 1
    assert KeyRequest.objects.count() == 0


@pytest.mark.parametrize("button", ["find", "all", "preview"])
def test_an_unknown_door_is_neither_found_nor_kept_nor_weighed(
    estate: Estate, client: Client, button: str
) -> None:
    door = critical(estate, estate.key("AA1"))
    facts = {button: "1", "q": door.number, "doors": [str(door.pk)]}
    text = post(client, estate.cast.requester, "ask-building", estate.building.pk, **facts).content.decode()
    assert str(door.pk) not in text
    assert "What it would roughly take" not in text


def test_the_service_refuses_an_unknown_door_too(estate: Estate) -> None:
    door = critical(estate, estate.key("AA1"))
    with pytest.raises(Refused, match="A door that you chose is not there"):
        services.ask_for_key(actor=estate.cast.requester, doors=[door], reason="Work.")
    asked = services.ask_for_key(actor=estate.cast.manager, doors=[door], reason="Work.")
    assert asked.doors.get() == door


def test_who_only_asks_elsewhere_knows_nothing_here(estate: Estate) -> None:
    elsewhere = factories.make_user("visitor", site=estate.cast.south, role=Role.REQUESTER)
    assert not knows(elsewhere, estate.door())
