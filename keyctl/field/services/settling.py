"""A case ends when a person has looked and says what is where."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import Settled, Whereabouts, settle_cores
from keyctl.field.access import SETTLERS
from keyctl.field.models import CaseCore, CaseHousing, FieldEvent, ReconcileCase
from keyctl.field.parsing import Swapped, read_body
from keyctl.field.wording import CHECKS
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold
from keyctl.lib.language import english, in_english
from keyctl.orders import services as orders
from keyctl.places.access import require_role
from keyctl.places.models import Housing

LONGEST_NOTE = 400
# Where nobody knows where a core is, it counts as gone: its keys are out of hand, and what is found later is
# told as a new contradiction, which may put it back.
NOWHERE_KNOWN = Whereabouts(Core.Place.GONE.value)


@transaction.atomic
def settle_case(
    *,
    actor: User,
    case: ReconcileCase,
    places: Mapping[Core, Whereabouts],
    note: str,
    stories_seen: int | None = None,
) -> ReconcileCase:
    """Put each core of the case where the person says it is, and clear its mark.

    A core that is thereby pushed out of a housing must be placed as well.
    """
    require_role(actor, case.site, *SETTLERS)
    by_pk = {core.pk: where for core, where in places.items()}
    swaps = _told_swaps(case)
    orders.hold_lines({body.line for body in swaps if body.line})
    _hold(case, by_pk)
    case = _locked(case, stories_seen)
    if not note.strip():
        raise Refused(gettext("Say how you know: who looked, and what was found."))
    _refuse_unplaced(case, places)
    _refuse_foreign(case, places)
    settled = settle_cores(places=by_pk)
    _close(actor, case, note.strip()[:LONGEST_NOTE])
    _tell(actor, case, settled, by_pk)
    _end_lines(actor, case, settled.cores, swaps)
    return case


def _told_swaps(case: ReconcileCase) -> list[Swapped]:
    """The swaps of lines of which its stories tell, where every check was made."""
    swapped = FieldEvent.objects.filter(stories__case=case, kind=FieldEvent.Kind.SWAPPED, forgotten_at=None)
    told = swapped.order_by("received_at")
    bodies = [read_body(event.kind, event.body) for event in told]
    return [
        body
        for body in bodies
        if isinstance(body, Swapped) and body.line and all(getattr(body, name) for name, _ in CHECKS)
    ]


def _end_lines(actor: User, case: ReconcileCase, cores: Sequence[Core], swaps: Sequence[Swapped]) -> None:
    """A swap that was settled as it was told is done: its order does not wait for it any more."""
    by_tag = {core.tag: core for core in cores}
    for body in swaps:
        core = by_tag.get(body.core_in)
        if body.line and core is not None and core.housing_id == body.housing:
            orders.finish_settled_swap(
                actor=actor,
                line=body.line,
                core_in=core,
                core_out=by_tag.get(body.core_out),
                note=gettext("Settled in {case}: {note}").format(case=case, note=case.note),
            )


def _hold(case: ReconcileCase, places: Mapping[UUID, Whereabouts]) -> None:
    """Housings, then cores, then the case: the same sequence in which tablets' stories take them."""
    housings = {where.housing.pk for where in places.values() if where.housing}
    housings |= set(CaseHousing.objects.filter(case=case).values_list("housing_id", flat=True))
    hold(Housing.objects.filter(pk__in=housings))
    cores = set(CaseCore.objects.filter(case=case).values_list("core_id", flat=True)) | set(places)
    hold(Core.objects.filter(pk__in=cores))


def _locked(case: ReconcileCase, stories_seen: int | None) -> ReconcileCase:
    hold(ReconcileCase.objects.filter(pk=case.pk))
    case = ReconcileCase.objects.with_names().get(pk=case.pk)
    if case.state == ReconcileCase.State.MERGED:
        raise Conflict(
            gettext("This case goes on in {merged_into}. Look there.").format(merged_into=case.merged_into)
        )
    if case.settled_by is not None:
        raise Conflict(
            gettext("{settled_by} has settled this case already. Nothing was changed.").format(
                settled_by=case.settled_by
            )
        )
    if stories_seen is not None and case.stories.count() != stories_seen:
        raise Conflict(gettext("A further story came in while you looked at the case. Read it, then decide."))
    return case


def _refuse_unplaced(case: ReconcileCase, places: Mapping[Core, Whereabouts]) -> None:
    placed = {core.pk for core in places}
    for row in case.case_cores.select_related("core").exclude(core__in=placed):
        raise Refused(gettext("Say of core {core} where it really is.").format(core=row.core))


def _refuse_foreign(case: ReconcileCase, places: Mapping[Core, Whereabouts]) -> None:
    own = set(case.case_cores.values_list("core_id", flat=True))
    for core in places:
        if core.site_id != case.site_id:
            raise Refused(gettext("Core {core} belongs to another site than this case.").format(core=core))
        if core.pk not in own and core.is_disputed:
            raise Refused(
                gettext("Core {core} stands in {disputed_over}. Settle it there.").format(
                    core=core, disputed_over=core.disputed_over
                )
            )
    _refuse_unconcerned({core.pk for core in places} - own, places)


def _refuse_unconcerned(others: set[UUID], places: Mapping[Core, Whereabouts]) -> None:
    """Beside its own cores a case places only those that give way to one."""
    wanted = [where.housing for where in places.values() if where.housing]
    unconcerned = Core.objects.filter(pk__in=others).exclude(housing__in=wanted) if others else ()
    for core in unconcerned:
        raise Refused(
            gettext("Core {core} has nothing to do with this case. Move it by itself.").format(core=core)
        )


def _close(actor: User, case: ReconcileCase, note: str) -> None:
    case.state, case.settled_at, case.settled_by = ReconcileCase.State.SETTLED, timezone.now(), actor
    case.note = note
    case.save(update_fields=["state", "settled_at", "settled_by", "note"])
    CaseHousing.objects.filter(case=case).update(is_open=False)


def _tell(actor: User, case: ReconcileCase, done: Settled, places: Mapping[UUID, Whereabouts]) -> None:
    """The decision of each core beside it in the case, and both stories with the decision in history."""
    settled = done.cores
    rows = {row.core_id: row for row in case.case_cores.all()}
    added = [CaseCore(case=case, core=core) for core in settled if core.pk not in rows]
    CaseCore.objects.bulk_create(added)
    rows |= {row.core_id: row for row in added}
    for core in settled:
        rows[core.pk].decided = _words(core, places[core.pk])[:200]
        rows[core.pk].is_open = False
    CaseCore.objects.bulk_update(rows.values(), ["decided", "is_open"])
    decisions = [f"core {core} is {rows[core.pk].decided}" for core in settled]
    decisions += [f"core {core}, in {core.disputed_over}, gave way" for core in done.pushed_out]
    record(
        actor=actor,
        verb="field.case_settled",
        sentence=f"settled {in_english(case)}: {'; '.join(decisions) or case.note}"[:400],
        site_id=case.site_id,
        subjects=[case, *settled, *done.pushed_out, *{core.housing.door for core in settled if core.housing}],
        detail={"note": case.note, "decisions": decisions, "stories": _stories(case)},
    )


def _words(core: Core, where: Whereabouts) -> str:
    with english():  # history keeps them
        return "gone, or nobody knows where" if where == NOWHERE_KNOWN else core.whereabouts


def _stories(case: ReconcileCase) -> list[dict[str, str]]:
    return [
        {"told": f"{story.teller} {story.says}", "register": story.register_said}
        for story in case.stories.order_by("received_at")[:20]
    ]
