"""Who may decide a step: the list of people, the condition of the database, and a plain reading agree."""

import random
from datetime import timedelta

import pytest
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.deciders import current_steps, decidable_steps
from keyctl.approvals.models import KeyRequest, Step, Substitute
from keyctl.approvals.roll import deciders
from keyctl.places.models import Building, BuildingManager, Membership
from keyctl.places.roles import STAFF, Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate

TODAY = timezone.localdate()


def stand_in(person: User, other: User, cast: Cast, **facts: object) -> Substitute:
    facts = {"since": TODAY, "until": TODAY, "site": cast.north} | facts
    return Substitute.objects.create(person=person, stands_in=other, named_by=cast.administrator, **facts)


def a_manager(estate: Estate, name: str, *, is_named: bool = False) -> User:
    user = factories.make_user(name, site=estate.cast.north, role=Role.MANAGER)
    if is_named:
        BuildingManager.objects.create(building=estate.building, user=user)
    return user


def names(request: KeyRequest) -> list[str]:
    step = current_steps().select_related("request__building__site").get(request=request)
    return [str(each) for each in deciders(step)]


def test_a_substitute_decides_from_the_first_day_to_the_last(estate: Estate) -> None:
    second = a_manager(estate, "second")
    row = stand_in(estate.cast.manager, second, estate.cast)
    request = estate.ask(estate.door(estate.key("AA1")))
    assert names(request) == ["Manager", "Second (for Manager)"]
    for days in ((1, 2), (-2, -1)):
        first, last = (TODAY + timedelta(days=each) for each in days)
        Substitute.objects.filter(pk=row.pk).update(since=first, until=last)
        assert names(request) == ["Manager"]


def test_a_substitute_without_the_role_decides_nothing(estate: Estate) -> None:
    stand_in(estate.cast.manager, estate.cast.desk, estate.cast)
    assert names(estate.ask(estate.door(estate.key("AA1")))) == ["Manager"]


def test_a_substitute_for_another_building_decides_nothing_here(estate: Estate) -> None:
    second = a_manager(estate, "second")
    stand_in(estate.cast.manager, second, estate.cast, building=estate.other_floor.building)
    assert names(estate.ask(estate.door(estate.key("AA1")))) == ["Manager"]


def test_nobody_decides_in_the_place_of_whoever_asked(estate: Estate) -> None:
    second = a_manager(estate, "second")
    third = a_manager(estate, "third", is_named=True)
    stand_in(estate.cast.manager, second, estate.cast)
    request = estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    assert names(request) == [str(third)]


def test_nobody_decides_for_their_own_substitute(estate: Estate) -> None:
    second = a_manager(estate, "second", is_named=True)
    third = a_manager(estate, "third", is_named=True)
    stand_in(estate.cast.manager, second, estate.cast)
    request = estate.ask(estate.door(estate.key("AA1")), actor=second)
    assert names(request) == [str(third)]


def test_somebody_who_no_longer_signs_in_decides_nothing(estate: Estate) -> None:
    a_manager(estate, "second", is_named=True)
    User.objects.filter(pk=estate.cast.manager.pk).update(is_active=False)
    assert names(estate.ask(estate.door(estate.key("AA1")))) == ["Second"]


def holds(who: User, step: Step, *roles: Role) -> bool:
    rows = Membership.objects.filter(user=who, site=step.request.building.site, role__in=roles)
    return who.is_active and rows.exists()


def own_right(who: User, step: Step) -> bool:
    if step.who == "officer":
        return holds(who, step, Role.OFFICER)
    if step.who == "named":
        return who in step.people.all() and holds(who, step, *STAFF)
    named = BuildingManager.objects.filter(user=who, building=step.request.building).exists()
    return named and holds(who, step, Role.MANAGER)


def in_force(step: Step) -> list[Substitute]:
    rows = Substitute.objects.filter(site=step.request.building.site, ended_at=None)
    return [row for row in rows if row.since <= TODAY <= row.until]


def conflicted(who: User, step: Step) -> bool:
    parties = {step.asked_by, step.asked_for} - {None}
    pairs = [{row.person, row.stands_in} for row in in_force(step)]
    if who in parties or any(who in pair and pair & parties for pair in pairs):
        return True
    others = Step.objects.filter(request=step.request, is_apart=True).exclude(pk=step.pk)
    return step.is_apart and any(who in {each.decided_by, each.for_person} for each in others)


def stands_in_well(who: User, step: Step, row: Substitute) -> bool:
    needs = {"building": (Role.MANAGER,), "officer": (Role.OFFICER,), "named": STAFF}[step.who]
    here = row.building is None or row.building == step.request.building
    allowed = own_right(row.person, step) and not conflicted(row.person, step)
    return row.stands_in == who and here and allowed and holds(who, step, *needs)


def plainly(who: User, step: Step) -> bool:
    """The rules read once more, one question after the other, for one person and one step."""
    if conflicted(who, step):
        return False
    if own_right(who, step) or any(stands_in_well(who, step, row) for row in in_force(step)):
        return True
    return step.told in {"officer", "administrator"} and holds(who, step, Role.OFFICER)


def some_people(rng: random.Random, cast: Cast, buildings: list[Building], count: int) -> list[User]:
    people = [factories.make_user(f"p{place}") for place in range(count)]
    for user in people:
        for role in rng.sample([Role.MANAGER, Role.OFFICER, Role.KEY_DESK, Role.REQUESTER], rng.randrange(3)):
            Membership.objects.create(
                user=user, site=rng.choice([cast.north, cast.north, cast.south]), role=role
            )
        for building in buildings:
            if rng.random() < 0.4:
                BuildingManager.objects.create(user=user, building=building)
        if rng.random() < 0.1:
            User.objects.filter(pk=user.pk).update(is_active=False)
            user.is_active = False
    return people


def some_substitutes(rng: random.Random, cast: Cast, people: list[User], buildings: list[Building]) -> None:
    for _ in range(rng.randrange(6)):
        person, other = rng.sample(people, 2)
        since = TODAY + timedelta(days=rng.choice([-2, -2, -2, 1]))
        until = since + timedelta(days=rng.choice([1, 5, 5, 5]))
        facts: dict[str, object] = {"since": since, "until": until}
        facts["site"] = rng.choice([cast.north, cast.north, cast.north, cast.south])
        facts["building"] = rng.choice([None, *buildings])
        if rng.random() < 0.1:
            facts |= {"ended_at": timezone.now(), "ended_by": cast.administrator}
        stand_in(person, other, cast, **facts)


def some_steps(rng: random.Random, people: list[User], building: Building) -> None:
    """A request with one step decided and one that waits."""
    asked_by, asked_for, decider, stood_for = [*rng.sample(people, 3), rng.choice([None, *people])]
    asked_for_or_not = rng.choice([None, asked_for])
    request = KeyRequest.objects.create(
        building=building,
        holder=factories.make_holder(building.site),
        holder_user=asked_for_or_not,
        requester=asked_by,
        reason="Work",
    )
    now = timezone.now()
    facts: dict[str, object] = {"request": request, "asked_by": asked_by, "asked_for": asked_for_or_not}
    facts |= {"since": now, "due_at": now, "label": "Step", "why": "Always."}
    if decider != asked_for_or_not:
        allowed = stood_for not in {asked_by, asked_for_or_not, decider}
        Step.objects.create(
            **facts,
            ordinal=1,
            who="building",
            is_apart=rng.random() < 0.7,
            state="approved",
            decided_by=decider,
            decided_at=now,
            for_person=stood_for if allowed else None,
        )
    told = rng.choice(["asked", "asked", "reminded", "officer", "administrator"])
    who = rng.choice(["building", "officer", "named"])
    step = Step.objects.create(**facts, ordinal=2, who=who, told=told, is_apart=rng.random() < 0.7)
    if who == "named":
        step.people.set(rng.sample(people, 2))


@pytest.mark.parametrize("seed", range(12))
def test_list_condition_and_plain_reading_agree(cast: Cast, seed: int) -> None:
    rng = random.Random(seed)
    buildings = [factories.make_floor(cast.north).building for _ in range(2)]
    people = some_people(rng, cast, buildings, 8)
    some_substitutes(rng, cast, people, buildings)
    for _ in range(6):
        some_steps(rng, people, rng.choice(buildings))
    steps = list(current_steps().select_related("request__building__site"))
    assert len(steps) == 6
    people += cast.everybody.values()
    by_list = {(each.user.pk, step.pk) for step in steps for each in deciders(step)}
    by_condition = {(user.pk, step.pk) for user in people for step in decidable_steps(user)}
    by_reading = {(user.pk, step.pk) for user in people for step in steps if plainly(user, step)}
    assert by_list == by_reading
    assert by_condition == by_reading
