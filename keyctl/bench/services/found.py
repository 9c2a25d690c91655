"""What was found in a core becomes what the records say is in it."""

from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.bench.comparing import Comparison, compare_with_plan
from keyctl.cores.models import Core
from keyctl.cores.services import store_pins
from keyctl.cores.services.locking import lock_core
from keyctl.lib.errors import Refused
from keyctl.orders.services import core_decoded


@dataclass(frozen=True)
class FoundPins:
    """The core with the pins found in it, and where they differ from the plan."""

    core: Core
    comparison: Comparison


@transaction.atomic
def record_found_pins(
    *, actor: User, core: Core, version: int, stacks: str, despite_doubts: bool = False
) -> FoundPins:
    """Seal ``stacks`` (text as ``engine.dump`` writes it) as what is in the core, whatever the plan says.

    Pins that nobody can have meant are refused unless the locksmith stands by them.
    """
    core = lock_core(actor, core.pk, version)
    if reason := why_not_to_record(core):
        raise Refused(reason)
    reading = engine.read_stacks(core.format_id, stacks=stacks)
    found, doubts = reading.pinning, reading.doubts
    if doubts and not despite_doubts:
        raise Refused(
            _("Some positions are in doubt; measure them again, or say that you stand by them."),
            reasons=[engine.say(doubt.message) for doubt in doubts],
        )
    turns = store_pins(actor, core, found)
    comparison = compare_with_plan(actor, core, turns)
    _record(actor, core, comparison, len(doubts))
    core_decoded(actor=actor, core=core)
    return FoundPins(core, comparison)


def why_not_to_record(core: Core) -> str | None:
    """The sentence that keeps found pins from being this core's, None where they may be."""
    if core.place == Core.Place.HOUSING:
        return _(
            "Core {core} is {whereabouts}: its pins cannot lie on the bench. Check the tag on the core, "
            "or take it out with a swap order first."
        ).format(core=core, whereabouts=core.whereabouts)
    if core.place == Core.Place.GONE:
        return _("Core {core} is gone; register the core you hold as a new one.").format(core=core)
    return None


def _record(actor: User, core: Core, comparison: Comparison, doubts: int) -> None:
    count = comparison.count
    against_plan = f"{count} {'key does' if count == 1 else 'keys do'} something else than planned"
    record(
        actor=actor,
        verb="core.found_pins_recorded",
        sentence=(
            f"recorded the pins found in core {core}: {against_plan if count else 'as planned'}"
            f"{', some positions in doubt' if doubts else ''}"
        ),
        site_id=core.site_id,
        subjects=[core],
        detail={"disagreements": count, "doubtful": doubts},
    )
