"""A list of people on its way in: uploaded, its columns chosen, checked, applied or given up."""

import hashlib
import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.directory.access import require_keeper
from keyctl.directory.columns import guess_columns, why_not
from keyctl.directory.models import PeopleList
from keyctl.directory.planning import ERROR, Plan, plan_list
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.columns import headings_to_keep
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.lib.retold import kept_text
from keyctl.lib.sheets import Sheet, read_sheet
from keyctl.places.access import administered_sites
from keyctl.vault import services as vault

APPLY = "directory.apply-list"
MOST_FINDINGS = 5_000
# Names of people are not kept because somebody forgot a file.
LEFT_AFTER = timedelta(days=14)
State = PeopleList.State
GIVEN_UP = kept_text(gettext_noop("Lists of people given up: {count}."))


def bring_people(*, actor: User, name: str, content: bytes, is_full: bool) -> PeopleList:
    """Keep an uploaded list, sealed, with its columns guessed and, where that suffices, checked."""
    require_keeper(actor)
    sheet = read_sheet(content)
    last = PeopleList.objects.exclude(headings={}).first()
    guess = guess_columns(sheet, last.headings if last else {})
    listed = PeopleList(
        name=name[-120:],
        digest=hashlib.sha256(content).hexdigest(),
        is_full=is_full,
        columns=guess.columns,
        has_header=guess.has_header,
        uploaded_by=actor,
    )
    listed.content = vault.seal_bytes(listed, "content", content)
    plan = None if why_not(guess.columns) else plan_list(sheet, guess.columns, guess.has_header, is_full)
    if plan:
        _keep_plan(listed, sheet, plan)
    # Not sooner: a large file takes seconds to read, in which nobody else shall wait to write.
    with transaction.atomic():
        listed.save(force_insert=True)
        _tell(actor, listed, "brought", f"brought in a list of people of {len(sheet.rows)} rows")
    return listed


def choose_columns(
    *,
    actor: User,
    listed: PeopleList,
    version: int,
    columns: Mapping[str, int],
    has_header: bool,
    is_full: bool,
) -> PeopleList:
    """Which column says what; the dry run follows at once."""
    require_keeper(actor)
    if fault := why_not(columns):
        raise Refused(fault)
    sheet = sheet_of(listed)
    plan = plan_list(sheet, columns, has_header, is_full)
    with transaction.atomic():
        listed = locked_list(listed.pk, version, State.UPLOADED, State.CHECKED)
        listed.columns, listed.has_header, listed.is_full = dict(columns), has_header, is_full
        _keep_plan(listed, sheet, plan)
        listed.version += 1
        listed.save()
    return listed


@transaction.atomic
def start_applying(*, actor: User, listed: PeopleList, version: int) -> Job:
    """Write what the dry run showed; rows with an error are left out."""
    require_keeper(actor)
    listed = locked_list(listed.pk, version, State.CHECKED)
    if listed.counts.get("rows", 0) == listed.counts.get(ERROR, 0):
        raise Refused(_("No row can be applied. Correct the list, and bring it in again."))
    listed.state, listed.version = State.APPLYING, listed.version + 1
    listed.save(update_fields=["state", "version"])
    return start_job(
        actor=actor,
        kind=APPLY,
        site=administered_sites(actor)[0],
        parameters={"list": str(listed.pk)},
        subjects=[listed],
        back_url=reverse("directory:list-detail", args=[listed.pk]),
        about=listed.name,
    )


@transaction.atomic
def give_up_list(*, actor: User, listed: PeopleList, version: int) -> PeopleList:
    require_keeper(actor)
    listed = locked_list(listed.pk, version, *PeopleList.OPEN)
    if listed.state == State.APPLYING and Job.objects.about(listed).unfinished().exists():
        raise Conflict(_("The list is being applied. Stop the job first."))
    end_list(listed, State.LEFT)
    _tell(actor, listed, "given_up", "gave up a list of people; the file is deleted")
    return listed


def clear_left_lists(now: datetime) -> str:
    """The routine: a list that nobody went on with is given up, and with it the names in its file."""
    left = PeopleList.objects.filter(state__in=PeopleList.OPEN, uploaded_at__lt=now - LEFT_AFTER)
    count = sum(_clear(pk) for pk in left.values_list("pk", flat=True))
    return GIVEN_UP.format(count=count)


@transaction.atomic
def _clear(pk: UUID) -> bool:
    listed = PeopleList.objects.select_for_update().get(pk=pk)
    if not listed.is_open or Job.objects.about(listed).unfinished().exists():
        return False
    end_list(listed, State.LEFT)
    sentence = f"gave up a list of people that lay for {LEFT_AFTER.days} days; the file is deleted"
    _tell(None, listed, "given_up", sentence)
    return True


def sheet_of(listed: PeopleList) -> Sheet:
    if listed.content is None:
        raise Refused(_("The file of this list is deleted already."))
    return read_sheet(vault.unseal_bytes(listed, "content"))


def locked_list(pk: UUID, version: int, *states: PeopleList.State) -> PeopleList:
    listed = PeopleList.objects.select_for_update().get(pk=pk)
    if listed.version != version:
        raise Conflict(_("Somebody else worked on this list first. Look at it as it is now."))
    if listed.state not in states:
        raise Conflict(
            _("The list is {value}. Look at it as it is now.").format(
                value=in_sentence(listed.get_state_display())
            )
        )
    return listed


def end_list(listed: PeopleList, state: PeopleList.State) -> None:
    listed.state, listed.content, listed.findings = state, None, None
    listed.ended_at, listed.version = timezone.now(), listed.version + 1
    listed.save(update_fields=["state", "content", "findings", "ended_at", "version", "counts"])


def _keep_plan(listed: PeopleList, sheet: Sheet, plan: Plan) -> None:
    """Findings first: rows that only say that all is as it was are counted, not kept."""
    told = [row.as_finding() for row in plan.rows if row.act != "same"]
    told.sort(key=lambda finding: (finding["act"] != ERROR, finding["row"]))
    listed.findings = vault.seal(listed, "findings", json.dumps(told[:MOST_FINDINGS]))
    listed.counts, listed.plan_digest, listed.state = plan.counts, plan.digest, State.CHECKED
    listed.headings = headings_to_keep(sheet, listed.columns) if listed.has_header else {}


def _tell(actor: User | None, listed: PeopleList, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"people_list.{verb}",
        sentence=sentence,
        subjects=[listed],
        detail={"digest": listed.digest},
    )
