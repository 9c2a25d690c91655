"""Many swaps told at once from a round sheet: each is the same act as at its door, with its own checks."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services.working import choose_core, complete_swap
from keyctl.places.access import require_role
from keyctl.places.roles import Role

LINES_A_PAGE = 25


@dataclass(frozen=True)
class DoorTold:
    """What somebody says of one door of the round; what they saw is in the identifiers and the version."""

    line: OrderLine
    core_in_version: int | None
    core_out_id: UUID | None
    operating_key_turned: bool
    control_key_came_out: bool
    egress_and_latch_tried: bool
    put_at: str

    @property
    def is_untouched(self) -> bool:
        return not (self.operating_key_turned or self.control_key_came_out or self.egress_and_latch_tried)


@dataclass
class RoundTold:
    """The doors that are done, and those that are not, each with the sentences that say why."""

    done: list[OrderLine] = field(default_factory=list)
    refused: list[tuple[OrderLine, list[str]]] = field(default_factory=list)


def tell_round(*, actor: User, order: WorkOrder, doors: Sequence[DoorTold]) -> RoundTold:
    """Each door is kept by itself: what is wrong at one undoes no other. Doors nobody ticked are left."""
    require_role(actor, order.site, Role.LOCKSMITH)
    told = [door for door in doors if not door.is_untouched]
    if not told:
        raise Refused(_("No door is ticked. Tick the three checks of each door that is done."))
    if len(told) > LINES_A_PAGE:
        raise Refused(_("Tell at most {lines_a_page} doors at a time.").format(lines_a_page=LINES_A_PAGE))
    result = RoundTold()
    for door in told:
        try:
            result.done.append(_tell_door(actor, door))
        except Refused as refused:
            result.refused.append((door.line, refused.sentences))
    return result


@transaction.atomic
def _tell_door(actor: User, door: DoorTold) -> OrderLine:
    line = door.line
    if line.core is None and line.meant is not None:
        line = choose_core(actor=actor, line=line, core=line.meant)
    if line.core is None or door.core_in_version is None:
        raise Refused(
            _("No core was made for {housing}. Choose one at its door.").format(housing=line.housing)
        )
    return complete_swap(
        actor=actor,
        line=line,
        core_in_id=line.core.pk,
        core_in_version=door.core_in_version,
        core_out_id=door.core_out_id,
        put_at=door.put_at,
        operating_key_turned=door.operating_key_turned,
        control_key_came_out=door.control_key_came_out,
        egress_and_latch_tried=door.egress_and_latch_tried,
    )
