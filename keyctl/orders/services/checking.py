"""What was found at a door: that it could not be reached, or how each point of its checklist is."""

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.orders.checklists import Point, is_needed, points_of
from keyctl.orders.listening import tell_unreached
from keyctl.orders.models import Check, OrderLine, WorkOrder
from keyctl.orders.services.closing import finish_line, locked_line

Kind = WorkOrder.Kind
AT_DOORS = (Kind.SWAP, Kind.INSPECT, Kind.LOCK_OUT)
WITH_CHECKLIST = (Kind.INSPECT, Kind.LOCK_OUT)
Found = Check.Found


@transaction.atomic
def report_unreached(*, actor: User, line: OrderLine, reason: str) -> OrderLine:
    """Somebody stood before the door in vain; the line stays open."""
    if not reason.strip():
        raise Refused(_("Say why the door could not be reached: locked off, in use, nobody to let you in."))
    line = locked_line(actor, line, *AT_DOORS)
    line.unreached_at, line.unreached_why = timezone.now(), reason.strip()[:200]
    line.save(update_fields=["unreached_at", "unreached_why"])
    door = line.door_at
    record(
        actor=actor,
        verb="order.door_unreached",
        sentence=f"could not reach {door} for order {line.order.number}: {line.unreached_why}",
        site_id=line.order.site_id,
        subjects=[line.order, *([door] if door else [])],
        detail={"line": line.ordinal},
    )
    tell_unreached(actor, line, line.unreached_why)
    return line


@transaction.atomic
def check_line(*, actor: User, line: OrderLine, items: Mapping[str, str], note: str = "") -> OrderLine:
    """Keep what was found at each point. An inspection is done with it, whatever was found; a door that was
    kept shut is given back only when nothing is bad."""
    line = locked_line(actor, line, *WITH_CHECKLIST)
    _refuse_before_lifting(line)
    points = points_of(line)
    _refuse_untold(points, items)
    _refuse_passed_over(line, points, items)
    _keep(line, points, items)
    line.note = note.strip()[:400]
    bad = [point for point in points if items[point.key] == Found.BAD]
    _tell(actor, line, bad)
    if bad and line.keeps_shut:
        line.save(update_fields=["note"])
        return line
    finish_line(actor, line)
    return line


def _refuse_before_lifting(line: OrderLine) -> None:
    if line.keeps_shut and line.lifted_at is None:
        raise Refused(
            _("{housing} is not lifted yet. Put its own core back first, then check the door.").format(
                housing=line.housing
            )
        )


def _refuse_untold(points: tuple[Point, ...], items: Mapping[str, str]) -> None:
    known = {point.key for point in points}
    reasons = [
        _("Say how this is: {label}.").format(label=point.label)
        for point in points
        if items.get(point.key) not in Found
    ]
    reasons += [
        _("There is no point called ‘{key}’ at this door.").format(key=key)
        for key in items
        if key not in known
    ]
    if reasons:
        raise Refused(_("The checklist is not finished."), reasons=reasons)


def _refuse_passed_over(line: OrderLine, points: tuple[Point, ...], items: Mapping[str, str]) -> None:
    """A door that was kept shut: people get out, and its own keys turn, or it is not given back."""
    passed = [point for point in points if items[point.key] == Found.NOT_APPLICABLE]
    if reasons := [
        _("Try this, it is always there: {label}.").format(label=point.label)
        for point in passed
        if is_needed(line, point)
    ]:
        raise Refused(_("The checklist is not finished."), reasons=reasons)


def _keep(line: OrderLine, points: tuple[Point, ...], items: Mapping[str, str]) -> None:
    """A later look at the same line takes the place of the earlier one; history keeps both."""
    line.checks.all().delete()
    Check.objects.bulk_create(
        Check(line=line, ordinal=nth, key=point.key, label=str(point.label), found=items[point.key])
        for nth, point in enumerate(points, 1)
    )


def _tell(actor: User, line: OrderLine, bad: list[Point]) -> None:
    door = line.door_at
    found = f"bad: {'; '.join(in_english(point.label) for point in bad)}" if bad else "nothing bad"
    record(
        actor=actor,
        verb="order.door_checked",
        sentence=f"checked {door} for order {line.order.number}, {found}",
        site_id=line.order.site_id,
        subjects=[line.order, *([door] if door else [])],
        detail={"line": line.ordinal, "bad": [point.key for point in bad]},
    )
