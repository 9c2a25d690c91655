"""Working on a line: pin its core at the bench, or swap the core at the door."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold
from keyctl.lib.language import in_english, in_sentence
from keyctl.orders.listening import tell_swapped
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.selectors import FREE
from keyctl.orders.services.closing import finish_line, locked_line
from keyctl.orders.services.locking_out import (
    mark_lifted,
    mark_shut,
    refuse_while_shut,
    refuse_without_word,
)
from keyctl.orders.services.opening import why_not_in_two_lines
from keyctl.orders.services.trying import owe_try_out, why_untried
from keyctl.places.models import Housing
from keyctl.stock import services as stock
from keyctl.stock.families import pins_in

Kind = WorkOrder.Kind


@transaction.atomic
def pin_line(*, actor: User, line: OrderLine) -> OrderLine:
    line = locked_line(actor, line, Kind.PIN)
    if line.core is None:
        raise Refused(_("{line} names no core. Cancel the order and open it anew.").format(line=line))
    core = _locked_core(line.core)
    line.core = cores.pin_core(actor=actor, core=core, version=core.version)
    _book_pins(actor, line.core, line.order)
    record(
        actor=actor,
        verb="order.line_pinned",
        sentence=f"pinned core {core} for order {line.order.number}",
        site_id=line.order.site_id,
        subjects=[line.order],
        detail={"line": line.ordinal, "core": core.tag},
    )
    owe_try_out(line)
    finish_line(actor, line)
    return line


@transaction.atomic
def choose_core(*, actor: User, line: OrderLine, core: Core) -> OrderLine:
    """Set the core that goes in aside for this line, so that no other line can take it.

    Into a door that is kept shut goes its own core, unless somebody chooses another one.
    """
    return _set_aside(actor, locked_line(actor, line, Kind.SWAP, Kind.LOCK_OUT), core)


def _set_aside(actor: User, line: OrderLine, core: Core) -> OrderLine:
    """For a line that is locked."""
    if line.lifted_at is not None:
        raise Refused(
            _("{housing} has its own core again. Check the door; then this line is done.").format(
                housing=line.housing
            )
        )
    # The housing before its cores, as everybody takes them; a swap goes on from here.
    hold(Housing.objects.filter(order_lines=line.pk))
    core = _locked_core(core)
    if reason := why_not_to_put_in(core, line, actor):
        raise Refused(reason)
    if other := why_not_in_two_lines(core, besides=line):
        raise Conflict(other)
    if line.is_shut:
        line.core_out = core
    else:
        line.core = core
    line.save(update_fields=["core", "core_out"])
    record(
        actor=actor,
        verb="order.core_chosen",
        sentence=f"chose core {core} for {in_english(line.housing)} in order {line.order.number}",
        site_id=line.order.site_id,
        subjects=[line.order, core],
        detail={"line": line.ordinal, "core": core.tag},
    )
    return line


@transaction.atomic
def complete_swap(
    *,
    actor: User,
    line: OrderLine,
    core_in_version: int,
    core_out_id: UUID | None,
    put_at: str,
    operating_key_turned: bool,
    control_key_came_out: bool,
    egress_and_latch_tried: bool,
    note: str = "",
    core_in_id: UUID | None = None,
    core_out_version: int | None = None,
    core_in: Core | None = None,
) -> OrderLine:
    """Finish a swap whose checks were all made; or shut a door for a time, or open it again.

    ``core_in_id`` is the core that the person saw; where it is given and the line has another one by now,
    the swap is refused like any other stale page. ``core_in`` is the core that a hand put in, whatever was
    chosen before: it is chosen first, as by `choose_core`.
    """
    line = locked_line(actor, line, Kind.SWAP, Kind.LOCK_OUT)
    if core_in is not None and core_in != (line.core_out if line.is_shut else line.core):
        line = _set_aside(actor, line, core_in)
    goes_in, housing = _ready_to_swap(line, core_in_id)
    _refuse_unchecked(operating_key_turned, control_key_came_out, egress_and_latch_tried)
    came_out = cores.exchange_core(
        actor=actor,
        housing=housing,
        core_in=goes_in,
        core_in_version=core_in_version,
        core_out_id=core_out_id,
        put_at=put_at,
        order=line.order,
        core_out_version=core_out_version,
    )
    line.note = note
    _record_checks(actor, line, goes_in, housing)
    if line.keeps_shut:
        return _shut_or_lifted(actor, line, came_out)
    line.core_out = came_out
    line.operating_key_turned = line.control_key_came_out = line.egress_and_latch_tried = True
    finish_line(actor, line)
    tell_swapped(actor, line)
    return line


def _shut_or_lifted(actor: User, line: OrderLine, came_out: Core | None) -> OrderLine:
    """The line stays open: for the day that the door opens again, then for its check."""
    if line.is_shut:
        mark_lifted(actor, line)
    else:
        line.core_out = came_out
        mark_shut(actor, line)
    return line


def why_not_to_put_in(core: Core, line: OrderLine, actor: User) -> str | None:
    """The sentence that keeps a core out of this line's housing, None where it may go in."""
    if core.site_id != line.order.site_id:
        return _("Core {core} belongs to another site.").format(core=core)
    if line.housing and core.construction != line.housing.construction:
        return _("Core {core} is {construction}; {housing} takes {construction_2} cores.").format(
            core=core,
            construction=core.construction,
            housing=line.housing,
            construction_2=line.housing.construction,
        )
    if not core.is_pinned:
        return _("Core {core} is not pinned yet. Open a pin order for it, or choose another core.").format(
            core=core
        )
    if core.place not in FREE:
        return _("Core {core} is not free: {place_words}. Choose another core.").format(
            core=core, place_words=_place_words(core)
        )
    if core.carrier and core.carrier != actor:
        return _("Core {core} is in the case of {carrier}. Have it handed over first.").format(
            core=core, carrier=core.carrier
        )
    return (
        _("Core {core} is in dispute. Settle that first.").format(core=core)
        if core.is_disputed
        else why_untried(core)
    )


def _place_words(core: Core) -> str:
    return (
        _("it is in {housing}").format(housing=core.housing)
        if core.housing
        else in_sentence(core.get_place_display())
    )


def _book_pins(actor: User, core: Core, order: WorkOrder) -> None:
    """A core is built of new pins; those it held go back into their bins, or away, by hand."""
    pinned = pins_of(core)
    stock.book_use(actor=actor, site=order.site, format=pinned.format, pins=pins_in(pinned), order=str(order))


def _locked_core(core: Core) -> Core:
    return cores.locked_cores([core.pk])[core.pk]


def _ready_to_swap(line: OrderLine, core_in_id: UUID | None) -> tuple[Core, Housing]:
    goes_in = line.core_out if line.is_shut else line.core
    if goes_in is None or line.housing is None:
        raise Refused(_("No core was chosen for this door yet. Go back to the first step and choose one."))
    if core_in_id is not None and core_in_id != goes_in.pk:
        raise Conflict(
            _(
                "Somebody chose core {goes_in} for this door in the meantime. Go back to the first step."
            ).format(goes_in=goes_in)
        )
    _refuse_by_lock_out(line, line.housing)
    return goes_in, line.housing


def _refuse_by_lock_out(line: OrderLine, housing: Housing) -> None:
    if not line.keeps_shut:
        refuse_while_shut(housing)
    elif line.lifted_at is not None:
        raise Refused(
            _("{housing} has its own core again. Check the door; then this line is done.").format(
                housing=housing
            )
        )
    elif not line.is_shut:
        refuse_without_word(line, housing.door)


def _refuse_unchecked(operating_key: bool, control_key: bool, egress_and_latch: bool) -> None:
    checks = {
        _("Turn the operating key in the new core."): operating_key,
        _("Make sure that the new core is held fast and that the control key is out."): control_key,
        _("Try the way out and the latch."): egress_and_latch,
    }
    if missing := [words for words, done in checks.items() if not done]:
        raise Refused(_("The swap is not finished: something was not tried yet."), reasons=missing)


def _record_checks(actor: User, line: OrderLine, core: Core, housing: Housing) -> None:
    record(
        actor=actor,
        verb="order.swap_checked",
        sentence=f"tried core {core} in {in_english(housing)}: "
        "key turned, control key out, way out and latch good",
        site_id=line.order.site_id,
        subjects=[line.order, housing.door],
        detail={"line": line.ordinal, "core": core.tag},
    )
