"""A list of people is applied by a job; then somebody decides who of the missing has left."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.directory.access import require_keeper
from keyctl.directory.models import DirectoryEntry, MissingPerson, PeopleList
from keyctl.directory.planning import CHANGED, NEW, SAME, PlannedRow, plan_list
from keyctl.directory.services.leaving import deactivate_person
from keyctl.directory.services.lists import APPLY, end_list, locked_list, sheet_of
from keyctl.directory.services.people import add_person, change_person
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.running import Running
from keyctl.keys.models import Person
from keyctl.leavers.models import LeaverCase
from keyctl.lib.errors import Conflict, Refused

# Few: while a batch is written, the desk waits.
ROWS_AT_ONCE = 25
# A list that would make more than this share leave may be the wrong file: it wants a second confirmation.
MOST_LEAVING_PERCENT = 10
State = PeopleList.State
Source = DirectoryEntry.Source


def register_kinds() -> None:
    register_kind(APPLY, gettext_lazy("Apply a list of people"), apply_list)


def apply_list(running: Running) -> dict[str, Any]:
    """Row by row, in batches. Gone on with after a stop, what was applied is found to be as the list says."""
    require_keeper(running.actor)
    listed = PeopleList.objects.get(pk=running.parameters["list"])
    if listed.state != State.APPLYING:
        raise Conflict(_("The list was given up or applied already."))
    plan = plan_list(sheet_of(listed), listed.columns, listed.has_header, listed.is_full)
    if not running.checkpoint and plan.digest != listed.plan_digest:
        _back_to_check(listed)
        raise Conflict(_("People changed since the dry run. Choose the columns again to see what is new."))
    work = [row for row in plan.rows if row.act in {NEW, CHANGED, SAME}]
    for done in range(0, len(work), ROWS_AT_ONCE):
        running.step(done, len(work), _("Writing people"))
        with transaction.atomic():
            for row in work[done : done + ROWS_AT_ONCE]:
                _apply(running.actor, row)
            running.save({"begun": True})
    _finish(running.actor, listed, plan.missing)
    return _outcome(listed)


@transaction.atomic
def let_go(
    *, actor: User, listed: PeopleList, missing: Sequence[MissingPerson], confirmed: int | None = None
) -> list[MissingPerson]:
    """These have left. Where they are many, the person has typed their number."""
    require_keeper(actor)
    rows = _proposed(listed, missing)
    if is_many(listed, len(rows)) and confirmed != len(rows):
        raise Refused(
            _(
                "These are {rows} people, more than {most_leaving_percent} % of those who came by lists. If "
                "it is the right file, type {rows} to confirm."
            ).format(rows=len(rows), most_leaving_percent=MOST_LEAVING_PERCENT)
        )
    for row in rows:
        deactivate_person(
            actor=actor,
            person=row.person,
            why=LeaverCase.Why.TABLE,
            note=_("Not in {name}").format(name=listed.name),
        )
        _decide(row, MissingPerson.State.LEFT, actor)
    return rows


@transaction.atomic
def keep_missing(*, actor: User, listed: PeopleList, missing: Sequence[MissingPerson]) -> list[MissingPerson]:
    """These stay although the list does not name them."""
    require_keeper(actor)
    rows = _proposed(listed, missing)
    for row in rows:
        _decide(row, MissingPerson.State.STAYS, actor)
    record(
        actor=actor,
        verb="people_list.kept",
        sentence=f"kept {len(rows)} people whom a list does not name",
        subjects=[listed, *(row.person for row in rows)],
    )
    return rows


def is_many(listed: PeopleList, count: int) -> bool:
    """Counting those whom this list made leave already."""
    gone = listed.missing.filter(state=MissingPerson.State.LEFT).count()
    base = max(1, int(listed.counts.get("listed", 0)))
    return (gone + count) * 100 > base * MOST_LEAVING_PERCENT


def _proposed(listed: PeopleList, missing: Sequence[MissingPerson]) -> list[MissingPerson]:
    wanted = [row.pk for row in missing]
    rows = listed.missing.select_for_update(of=("self",)).select_related("person").filter(pk__in=wanted)
    found = list(rows.filter(state=MissingPerson.State.PROPOSED).order_by("pk"))
    if not wanted:
        raise Refused(_("Nobody was chosen."))
    if len(found) < len(set(wanted)):
        raise Conflict(_("Somebody else has decided about some of these. Look again."))
    return found


def _decide(row: MissingPerson, state: MissingPerson.State, actor: User) -> None:
    row.state, row.decided_at, row.decided_by = state, timezone.now(), actor
    row.save(update_fields=["state", "decided_at", "decided_by"])


def _apply(actor: User, row: PlannedRow) -> None:
    """Somebody whom another source keeps is brought up to date and stays that source's."""
    if row.person is None:
        add_person(actor=actor, source=Source.TABLE, facts=row.facts)
        return
    entry = DirectoryEntry.objects.filter(person=row.person).first()
    source = Source.TABLE if entry is None or entry.source == Source.HAND else None
    if row.act == CHANGED or source:
        change_person(actor=actor, person=row.person, facts=row.facts, source=source)


@transaction.atomic
def _back_to_check(listed: PeopleList) -> None:
    PeopleList.objects.filter(pk=listed.pk, state=State.APPLYING).update(state=State.CHECKED)


@transaction.atomic
def _finish(actor: User, listed: PeopleList, missing: Sequence[Person]) -> None:
    found = locked_list(listed.pk, listed.version, State.APPLYING)
    MissingPerson.objects.bulk_create(MissingPerson(people_list=found, person=person) for person in missing)
    end_list(found, State.APPLIED)
    counts = found.counts
    record(
        actor=actor,
        verb="people_list.applied",
        sentence=f"applied a list of people: {counts[NEW]} new, {counts[CHANGED]} changed",
        subjects=[found],
        detail={"digest": found.digest, "rows": counts["rows"], "missing": len(missing)},
    )


def _outcome(listed: PeopleList) -> dict[str, Any]:
    counts = PeopleList.objects.get(pk=listed.pk).counts
    facts = {"New": counts[NEW], "Changed": counts[CHANGED], "Missing": counts["missing"]}
    return {
        "sentence": _("The list is applied; its file is deleted."),
        "url": reverse("directory:list-detail", args=[listed.pk]),
        "facts": facts,
    }
