"""The pins of one core, measured on the bench, and whether the cores read so far agree."""

import json
from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.bench.tables import other_words
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.recovery.access import WORKERS
from keyctl.recovery.findings import Finding, common_cuts, contradictions, dump_cuts
from keyctl.recovery.models import ControlKeyCase, CoreReading
from keyctl.recovery.selectors import READINGS_NEEDED, standing_readings
from keyctl.recovery.services.choosing import refuse_core
from keyctl.recovery.services.locking import Way, end_approval, locked_case, tell
from keyctl.vault import services as vault

# Where a format has no other say, a micrometer reading this far from a size still counts as that size.
TOLERANCE_IN = Decimal("0.002")

Pins = Sequence[Sequence[Decimal]]


@transaction.atomic
def read_core(
    *,
    actor: User,
    case: ControlKeyCase,
    version: int,
    core: Core,
    pins: Pins,
    in_inches: bool = False,
    tolerance_in: Decimal = TOLERANCE_IN,
) -> CoreReading:
    """One core more. Doubts are refused with their alternatives: a guess would be cut into metal."""
    case = locked_case(actor, case, version, *WORKERS, way=Way.DECODE)
    refuse_core(case, core)
    _refuse_second_time(case, core)
    finding = _measured(case, pins, in_inches, tolerance_in)
    reading = CoreReading(case=case, core=core, ordinal=case.readings.count() + 1, read_by=actor)
    reading.findings = vault.seal(reading, "findings", finding.dump())
    reading.save(force_insert=True)
    _conclude(case)
    tell(actor, case, "core_read", f"read core {core} for the lost control key; {_verdict(case)}", [core])
    return reading


@transaction.atomic
def set_aside_reading(*, actor: User, reading: CoreReading, version: int) -> CoreReading:
    """A reading that was wrong no longer counts; it stays in the register."""
    case = locked_case(actor, reading.case, version, *WORKERS)
    reading = CoreReading.objects.select_related("core").get(pk=reading.pk)
    if reading.set_aside_at:
        raise Refused(_("This reading is set aside already."))
    reading.set_aside_by, reading.set_aside_at = actor, timezone.now()
    reading.save(update_fields=["set_aside_by", "set_aside_at"])
    _conclude(case)
    sentence = f"set aside the reading of core {reading.core}; {_verdict(case)}"
    tell(actor, case, "reading_set_aside", sentence, [reading.core])
    return reading


def findings_of(case: ControlKeyCase) -> list[Finding]:
    """What the cores read say, unsealed; who shows it to a person records that first."""
    return [Finding.restore(vault.unseal(reading, "findings")) for reading in standing_readings(case)]


def _refuse_second_time(case: ControlKeyCase, core: Core) -> None:
    if standing_readings(case).filter(core=core).exists():
        raise Refused(
            _(
                "Core {core} is read already. The second reading wants another core; to measure this one "
                "again, set its reading aside first."
            ).format(core=core)
        )


def _measured(case: ControlKeyCase, pins: Pins, in_inches: bool, tolerance_in: Decimal) -> Finding:
    format_id = case.system.format_id
    if in_inches:
        inches = [[float(length) for length in stack] for stack in pins]
        reading = engine.read_stacks(format_id, measured_in=inches, tolerance_in=float(tolerance_in))
    else:
        reading = engine.read_stacks(format_id, stacks=json.dumps(_stacks(format_id, pins)))
    doubts = [_in_words(case, doubt) for doubt in reading.doubts]
    if doubts:
        raise Refused(
            _("Nothing was written down: measure these again, or read another core."), reasons=doubts
        )
    return Finding.of(reading)


def _in_words(case: ControlKeyCase, doubt: "engine.Doubt") -> str:
    message = engine.say(doubt.message)
    if not doubt.alternatives:
        return message
    chosen = engine.load_format(case.system.format_id)
    others = _("; or ").join(other_words(chosen, each) for each in doubt.alternatives)
    return _("{message} It may be: {others}.").format(message=message, others=others)


def _stacks(format_id: str, pins: Pins) -> list[dict[str, object]]:
    """Sizes from the key upwards, told apart by where they stand: bottom, masters, control, top."""
    chosen = engine.load_format(format_id)
    return [_stack(chosen, position, sizes) for position, sizes in enumerate(pins, start=1)]


def _stack(chosen: "engine.CoreFormat", position: int, sizes: Sequence[Decimal]) -> dict[str, object]:
    if not sizes:
        return {"position": position, "bottom": None, "masters": [], "control": None, "top": None}
    if any(size != int(size) for size in sizes):
        raise Refused(
            _("Position {position}: kit numbers are whole. Choose measured lengths for others.").format(
                position=position
            )
        )
    bottom, *between, top = _enough(position, sizes, 3 if position in chosen.sleeve else 2)
    control = _control(chosen, between.pop()) if position in chosen.sleeve else None
    return {"position": position, "bottom": bottom, "masters": between, "control": control, "top": top}


def _enough(position: int, sizes: Sequence[Decimal], fewest: int) -> list[int]:
    if len(sizes) < fewest:
        control = _(", a control pin among them") if fewest == 3 else ""
        raise Refused(
            _(
                "Position {position}: {fewest} pins at least stand there{control}. Enter them from the key "
                "upwards."
            ).format(position=position, fewest=fewest, control=control)
        )
    return [int(size) for size in sizes]


def _control(chosen: "engine.CoreFormat", number: int) -> int:
    """A shop that numbers control pins from the sleeve writes +1 where others write the whole size."""
    counts_from_sleeve = chosen.control is not None and chosen.control.numbering == "relative"
    return number + chosen.addition if counts_from_sleeve else number


def _conclude(case: ControlKeyCase) -> None:
    """Seal what the cores agree on; what a second person approved before no longer stands."""
    findings = findings_of(case)
    agreed = len(findings) >= READINGS_NEEDED and not contradictions(findings)
    case.findings = vault.seal(case, "findings", dump_cuts(common_cuts(findings))) if agreed else None
    end_approval(case)
    save_next(case, "findings")


def _verdict(case: ControlKeyCase) -> str:
    count = standing_readings(case).count()
    if case.findings is not None:
        return f"{count} cores agree"
    if count < READINGS_NEEDED:
        return "another core is needed" if count else "two cores are needed"
    return f"{count} cores do not agree"
