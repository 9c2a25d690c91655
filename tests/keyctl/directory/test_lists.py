"""Lists of people: the dry run of every row, applied once, and who is missing."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.directory.facts import Facts
from keyctl.directory.models import DirectoryEntry, MissingPerson, PeopleList
from keyctl.directory.selectors import findings_of
from keyctl.directory.services import (
    add_person,
    bring_people,
    choose_columns,
    deactivate_person,
    give_up_list,
    keep_missing,
    let_go,
    start_applying,
)
from keyctl.directory.services.lists import clear_left_lists
from keyctl.jobs.models import Job
from keyctl.keys.models import Person
from keyctl.leavers.models import LeaverCase
from keyctl.lib.errors import Conflict, Refused
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.keys.keyroom import KeyRoom

HEAD = "Identifier,User name,Name,E-mail,Department,Kind"
ADA = "1,ada,Ada Example,ada@example.org,Physics,Employee"
BEN = "2,ben,Ben Example,ben@example.org,Law,Student"
CLEO = "3,cleo,Cleo Example,cleo@example.org,Law,Contractor"


def brought(actor: User, *rows: str, is_full: bool = False, head: str = HEAD) -> PeopleList:
    content = "\n".join([head, *rows]).encode()
    return bring_people(actor=actor, name="people.csv", content=content, is_full=is_full)


def applied(actor: User, *rows: str, is_full: bool = False) -> PeopleList:
    listed = brought(actor, *rows, is_full=is_full)
    job = finish(start_applying(actor=actor, listed=listed, version=listed.version))
    assert job.state == Job.State.DONE, job.state
    listed.refresh_from_db()
    return listed


def told(listed: PeopleList) -> list[tuple[int, str, str]]:
    return [(finding["row"], finding["act"], finding["text"]) for finding in findings_of(listed)]


def test_every_row_says_what_it_would_do_and_nothing_is_done(keeper: User) -> None:
    listed = brought(keeper, ADA, BEN)
    assert told(listed) == [(2, "new", ""), (3, "new", "")]
    assert listed.state == PeopleList.State.CHECKED
    assert not Person.objects.exists()


def test_a_list_is_applied_and_its_file_deleted(keeper: User) -> None:
    listed = applied(keeper, ADA, BEN)
    ada = Person.objects.get(user_name="ada")
    assert (ada.external_id, ada.display_name, ada.email, ada.department) == (
        "1",
        "Ada Example",
        "ada@example.org",
        "Physics",
    )
    assert [person.kind for person in Person.objects.order_by("external_id")] == ["staff", "student"]
    assert (listed.state, listed.content, listed.findings) == ("applied", None, None)
    assert Event.objects.filter(verb="people_list.applied").count() == 1


def test_the_same_list_again_changes_nothing(keeper: User) -> None:
    applied(keeper, ADA, BEN)
    before = {person.pk: person.changed_at for person in Person.objects.all()}
    listed = brought(keeper, ADA, BEN)
    assert told(listed) == []
    assert listed.counts["same"] == 2
    events = Event.objects.exclude(verb__startswith="people_list").exclude(verb__startswith="job").count()
    finish(start_applying(actor=keeper, listed=listed, version=listed.version))
    assert {person.pk: person.changed_at for person in Person.objects.all()} == before
    now = Event.objects.exclude(verb__startswith="people_list").exclude(verb__startswith="job").count()
    assert now == events


def test_what_changes_is_named_by_its_column(keeper: User) -> None:
    applied(keeper, ADA)
    listed = brought(keeper, "1,ada,Ada Married,ada@example.org,Chemistry,Employee")
    assert told(listed) == [(2, "changed", "department, name")]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("1,,Ada Example,,,", None),
        (",ADA,Ada Example,,,", None),
        (",,Ada Example,Ada@Example.org,,", None),
        ("9,ada,Ada Example,,,", "another identifier"),
        (",other,Ada Example,ada@example.org,,", "another user name"),
        ("2,ada,Ada Example,,,", "one person's and the user name another's"),
        (",,Ada Example,,,", "Nothing tells this person apart"),
        ("7,x,,,,", "The name is missing"),
        ("7,x,X,no address,,", "cannot be an address"),
        (f"7,x,{'X' * 121},,,", "longer than 120"),
        ("7,x,=1+1,,,", "a formula"),
    ],
)
def test_people_are_matched_or_the_row_says_why_not(keeper: User, row: str, words: str | None) -> None:
    applied(keeper, ADA, BEN)
    found = told(brought(keeper, row))
    if words is None:
        assert [act for _, act, _ in found] == ["changed"]
    else:
        ((number, act, text),) = found
        assert (number, act) == (2, "error")
        assert words in text


def test_a_person_named_twice_is_told_with_the_first_row(keeper: User) -> None:
    listed = brought(keeper, ADA, "1,adb,Ada Twin,adb@example.org,,", "4,ada,Ada Triple,,,")
    assert told(listed)[0] == (3, "error", "Row 2 has this identifier too.")
    assert told(listed)[1] == (4, "error", "Row 2 has this user name too.")


def test_rows_with_an_error_are_left_out(keeper: User) -> None:
    listed = applied(keeper, ADA, ",,Nobody,,,")
    assert listed.counts["error"] == 1
    assert Person.objects.get().user_name == "ada"


def test_columns_are_guessed_as_they_were_called_last(keeper: User) -> None:
    head = "Matrikel,Wer,Post"
    listed = bring_people(
        actor=keeper, name="l.csv", content=f"{head}\n1,Ada,a@example.org".encode(), is_full=False
    )
    assert listed.state == PeopleList.State.UPLOADED
    columns = {"external_id": 0, "display_name": 1, "email": 2}
    listed = choose_columns(
        actor=keeper, listed=listed, version=listed.version, columns=columns, has_header=True, is_full=False
    )
    assert listed.counts["new"] == 1
    again = bring_people(
        actor=keeper, name="l.csv", content=f"{head}\n1,Ada,a@example.org".encode(), is_full=False
    )
    assert again.columns == columns


def test_who_is_missing_from_a_full_list_is_proposed_and_still_here(keeper: User) -> None:
    applied(keeper, ADA, BEN)
    listed = applied(keeper, ADA, is_full=True)
    (row,) = listed.missing.all()
    assert (row.person.user_name, row.state) == ("ben", "proposed")
    assert row.person.is_active


def test_a_part_of_a_list_proposes_nobody(keeper: User) -> None:
    applied(keeper, ADA, BEN)
    assert not applied(keeper, ADA).missing.exists()


def test_a_row_that_cannot_be_read_lets_nobody_be_missing(keeper: User) -> None:
    applied(keeper, ADA, BEN)
    assert not applied(keeper, ADA, "2,ben,,,,", is_full=True).missing.exists()


def test_only_who_came_by_a_list_can_be_missing_from_one(keeper: User) -> None:
    scim = DirectoryEntry.Source.SCIM
    add_person(actor=keeper, source=scim, facts=Facts(user_name="dan", display_name="Dan"))
    Person.objects.create(display_name="Eve", user_name="eve")
    assert not applied(keeper, ADA, is_full=True).missing.exists()


def let(keeper: User, listed: PeopleList, **facts: Any) -> list[MissingPerson]:
    return let_go(actor=keeper, listed=listed, missing=list(listed.missing.all()), **facts)


def test_many_at_once_want_their_number(keeper: User, room: KeyRoom) -> None:
    applied(keeper, ADA, BEN, CLEO)
    listed = applied(keeper, ADA, is_full=True)
    for confirmed in (None, 1, 3):
        with pytest.raises(Refused, match="type 2 to confirm"):
            let(keeper, listed, confirmed=confirmed)
    let(keeper, listed, confirmed=2)
    assert set(Person.objects.filter(is_active=False).values_list("user_name", flat=True)) == {"ben", "cleo"}
    assert {row.decided_by for row in listed.missing.all()} == {keeper}


def test_few_of_many_go_without_it(keeper: User) -> None:
    rows = [f"{n},u{n},User {n},,," for n in range(10, 31)]
    applied(keeper, *rows)
    listed = applied(keeper, *rows[:-1], is_full=True)
    assert [row.state for row in let(keeper, listed)] == ["left"]


def test_a_share_is_counted_over_all_that_the_list_made_leave(keeper: User) -> None:
    """One by one is no way around the second confirmation."""
    rows = [f"{n},u{n},User {n},,," for n in range(10, 30)]
    applied(keeper, *rows)
    listed = applied(keeper, *rows[:-3], is_full=True)
    missing = list(listed.missing.all())
    for row in missing[:2]:
        let_go(actor=keeper, listed=listed, missing=[row])
    with pytest.raises(Refused, match="type 1"):
        let_go(actor=keeper, listed=listed, missing=missing[2:])


def test_a_missing_person_with_keys_gets_a_case(keeper: User, room: KeyRoom) -> None:
    room.holder.email = "ben@example.org"
    room.holder.save()
    room.held()
    applied(keeper, ADA, BEN)
    let(keeper, applied(keeper, ADA, is_full=True), confirmed=1)
    case = LeaverCase.objects.get()
    assert (case.holder, case.why) == (room.holder, "table")


def test_who_stays_is_decided_once(keeper: User) -> None:
    applied(keeper, ADA, BEN)
    listed = applied(keeper, ADA, is_full=True)
    keep_missing(actor=keeper, listed=listed, missing=list(listed.missing.all()))
    with pytest.raises(Conflict, match="Somebody else has decided"):
        let(keeper, listed, confirmed=1)
    assert Person.objects.filter(is_active=True).count() == 2


def test_a_list_brings_nobody_back(keeper: User) -> None:
    applied(keeper, ADA)
    deactivate_person(actor=keeper, person=Person.objects.get())
    ((_, act, text),) = told(brought(keeper, ADA))
    assert act == "gone"
    assert "on their page" in text
    assert not Person.objects.get().is_active


def test_people_who_changed_since_the_dry_run_stop_it(keeper: User) -> None:
    listed = brought(keeper, ADA)
    Person.objects.create(display_name="Somebody", user_name="ada")
    job = finish(start_applying(actor=keeper, listed=listed, version=listed.version))
    assert job.state == Job.State.FAILED
    listed.refresh_from_db()
    assert listed.state == PeopleList.State.CHECKED


def test_somebody_else_was_first(keeper: User) -> None:
    listed = brought(keeper, ADA)
    give_up_list(actor=keeper, listed=listed, version=listed.version)
    with pytest.raises(Conflict):
        start_applying(actor=keeper, listed=listed, version=listed.version)
    listed.refresh_from_db()
    assert (listed.state, listed.content) == ("left", None)


@pytest.mark.parametrize("name", ["desk", "officer", "auditor", "administrator", "stranger"])
def test_only_who_administers_every_site_brings_people_in(cast: Cast, name: str) -> None:
    with pytest.raises(PermissionDenied):
        brought(getattr(cast, name), ADA)


def test_the_file_lies_sealed(keeper: User) -> None:
    listed = brought(keeper, ADA)
    assert b"Ada" not in bytes(listed.content or b"") + bytes(listed.findings or b"")


def test_a_list_that_nobody_goes_on_with_is_deleted_after_two_weeks(keeper: User) -> None:
    old, fresh = brought(keeper, ADA), brought(keeper, BEN)
    applying = brought(keeper, CLEO)
    start_applying(actor=keeper, listed=applying, version=applying.version)
    long_ago = timezone.now() - timedelta(days=15)
    PeopleList.objects.filter(pk__in=[old.pk, applying.pk]).update(uploaded_at=long_ago)
    assert clear_left_lists(timezone.now()) == "Lists of people given up: 1."
    states = {listed.pk: (listed.state, listed.content is None) for listed in PeopleList.objects.all()}
    assert states[old.pk] == ("left", True)
    assert states[fresh.pk] == ("checked", False)
    assert states[applying.pk] == ("applying", False)
    event = Event.objects.get(verb="people_list.given_up")
    assert event.actor is None
    assert "Ada" not in event.sentence + str(event.detail)
