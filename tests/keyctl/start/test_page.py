"""How the first page is put together: by role, nothing twice, nothing of other sites, and at one price."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.counts.models import Count
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.start.selectors import ORDER, first_page
from tests import factories
from tests.cast import Cast
from tests.keyctl.start.reading import block, day, questions, words_of

STAFF = ("locksmith", "desk", "manager", "officer", "auditor", "administrator")


def give(user: User, *roles: Role, site: Any) -> None:
    Membership.objects.bulk_create([Membership(user=user, site=site, role=role) for role in roles])


def parts(user: User) -> list[Role]:
    return [part.role for part in first_page(user).parts]


@pytest.mark.parametrize("name", [*STAFF, "requester"])
def test_each_role_has_questions_of_its_own(cast: Cast, client: Client, name: str) -> None:
    factories.make_door(cast.north)
    assert len(questions(cast.everybody[name])) >= 2
    assert "You have no role yet" not in words_of(client, cast.everybody[name])


def test_roles_stand_in_the_order_of_the_day_and_a_single_one_has_no_heading(
    cast: Cast, client: Client
) -> None:
    factories.make_door(cast.north)
    assert "Locksmith" not in words_of(client, cast.locksmith)
    give(cast.locksmith, Role.AUDITOR, Role.KEY_DESK, Role.OFFICER, site=cast.north)
    assert parts(cast.locksmith) == [Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR]
    page = words_of(client, cast.locksmith)
    heads = [
        "Which doors are next?",
        "What is due back today?",
        "Which losses are open?",
        "What was counted last?",
    ]
    places = [page.index(words) for words in heads]
    assert places == sorted(places)


def test_whoever_holds_every_role_is_asked_nothing_twice(cast: Cast) -> None:
    factories.make_door(cast.north)
    give(cast.locksmith, *(role for role in ORDER if role != Role.LOCKSMITH), site=cast.north)
    asked = questions(cast.locksmith)
    assert len(asked) == len(set(asked))
    for name in STAFF:
        missing = set(questions(cast.everybody[name])) - set(asked)
        assert not missing, (name, missing)


def test_a_question_of_two_roles_is_answered_for_the_sites_of_both(cast: Cast) -> None:
    give(cast.desk, Role.OFFICER, site=cast.south)
    for number, site in enumerate((cast.north, cast.south), start=1):
        facts = {"scope": "cabinet", "cabinet": factories.make_cabinet(site), "reason": "rule"}
        Count.objects.create(site=site, number=number, due_on=day(-number), **facts)
    acts = [line.act.label for line in block(cast.desk, "What must be counted?").lines if line.act]
    assert acts == ["Look", "Begin"]


def test_an_empty_installation_shows_where_to_begin(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.administrator)
    assert "Begin here" in page
    assert "Write doors down, or bring in a list of them" in page
    assert "No import waits to be taken." not in page
    begins = first_page(cast.administrator).beginning
    assert begins
    assert begins.next
    assert begins.next.url == reverse("places:list")


def test_the_beginning_goes_on_step_by_step_and_ends(cast: Cast, client: Client) -> None:
    def next_step() -> str:
        begins = first_page(cast.locksmith).beginning
        return begins.next.label if begins and begins.next else ""

    housing = factories.make_housing(cast.north)
    assert next_step() == "Make a key system, or bring one in"
    system = factories.make_system(cast.north, actor=cast.administrator)
    assert next_step() == "Pin the first cores"
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    assert next_step() == "Put them into their doors"
    factories.install(core, housing)
    assert next_step() == "Cut a key and hand it out"
    factories.make_copy(factories.change_key(system), factories.make_cabinet(cast.north))
    assert KeyCopy.objects.filter(site=cast.north).exists()
    assert first_page(cast.locksmith).beginning is None
    assert "Begin here" not in words_of(client, cast.locksmith)


def test_only_those_who_begin_are_shown_where(cast: Cast, client: Client) -> None:
    assert "Begin here" not in words_of(client, cast.desk)


def test_whoever_has_no_role_is_told_who_gives_one(client: Client, db: None) -> None:
    assert "You have no role yet" in words_of(client, factories.make_user("nobody"))


def test_the_page_stands_first_in_the_index_and_is_marked_there_alone(cast: Cast, client: Client) -> None:
    client.force_login(cast.requester)
    sections = client.get("/").context["sections"]
    assert [(each.label, each.is_current) for each in sections] == [("Today", True), ("Requests", False)]
    others = client.get("/requests/").context["sections"]
    assert [each.is_current for each in others] == [False, True]
