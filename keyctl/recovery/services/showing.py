"""Showing what the cores gave: history knows of it before the vault opens."""

from dataclasses import dataclass, field

from django.utils.translation import gettext

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.recovery.access import WORKERS
from keyctl.recovery.findings import Cuts, Finding, contradictions, restore_cuts, signs
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import standing_readings
from keyctl.recovery.services.cutting import approval_to_use, use_approval
from keyctl.recovery.services.locking import Way, locked_case
from keyctl.recovery.services.reading import findings_of
from keyctl.recovery.services.wanting import shown_for
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySystem
from keyctl.systems.selectors import control_of
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault


@dataclass(frozen=True)
class ControlKey:
    """The cuts to cut from, per position; more than one where the cores read leave it open."""

    columns: tuple[tuple[int, tuple[str, ...]], ...] = field(repr=False)
    # None where the system has no control key on record.
    is_as_recorded: bool | None

    @property
    def text(self) -> str:
        return "".join(cuts[0] for _, cuts in self.columns)

    @property
    def is_open(self) -> bool:
        return any(len(cuts) > 1 for _, cuts in self.columns)


@dataclass(frozen=True)
class Chamber:
    """One position of one core as it was read."""

    core: Core
    pins: tuple[int, ...] = field(repr=False)
    cuts: tuple[str, ...] = field(repr=False)


@dataclass(frozen=True)
class Difference:
    """One position in which the cores contradict each other, core by core."""

    position: int
    chambers: tuple[Chamber, ...]


def show_control_key(*, actor: User, case: ControlKeyCase, version: int, sign_in: FreshSignIn) -> ControlKey:
    """Once per approval, to a locksmith who did not give it."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _control_key(actor, case, version))


def show_differences(
    *, actor: User, case: ControlKeyCase, version: int, sign_in: FreshSignIn
) -> list[Difference]:
    """Only the positions that differ: the rest would be the control key, and that wants a second person."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _differences(actor, case, version))


def _control_key(actor: User, case: ControlKeyCase, version: int) -> Secret[ControlKey]:
    case = locked_case(actor, case, version, *WORKERS, way=Way.DECODE)
    if case.findings is None:
        raise Refused(gettext("The cores read do not agree on a control key yet. Read another core."))
    approval = approval_to_use(actor, case)
    use_approval(actor, approval)
    save_next(case)
    return shown_for(
        case,
        words=f"the recovered control key of {case.system.code}",
        verb="shown",
        open=lambda: _opened(case),
        approved_by=approval.approved_by,
    )


def _opened(case: ControlKeyCase) -> ControlKey:
    cuts = restore_cuts(vault.unseal(case, "findings"))
    return ControlKey(_columns(case, cuts), _is_as_recorded(case.system, cuts))


def _differences(actor: User, case: ControlKeyCase, version: int) -> Secret[list[Difference]]:
    case = locked_case(actor, case, version, *WORKERS, way=Way.DECODE)
    return shown_for(
        case,
        words=f"where the cores read for {case.system.code} differ",
        verb="differences_shown",
        open=lambda: _chambers(case),
        about=[reading.core for reading in standing_readings(case)],
    )


def _chambers(case: ControlKeyCase) -> list[Difference]:
    readings, findings = list(standing_readings(case)), findings_of(case)
    return [
        Difference(
            position,
            tuple(
                _chamber(reading.core, finding, position)
                for reading, finding in zip(readings, findings, strict=True)
            ),
        )
        for position in contradictions(findings)
    ]


def _chamber(core: Core, finding: Finding, position: int) -> Chamber:
    cuts = signs(core.format_id, finding.cuts[position - 1])
    return Chamber(core, finding.pins[position - 1], tuple(cuts))


def _columns(case: ControlKeyCase, cuts: Cuts) -> tuple[tuple[int, tuple[str, ...]], ...]:
    return tuple(
        (position, tuple(signs(case.system.format_id, column)))
        for position, column in enumerate(cuts, start=1)
    )


def _is_as_recorded(system: KeySystem, cuts: Cuts) -> bool | None:
    """Compared inside; the recorded key itself is not shown."""
    control = control_of(system)
    if control is None:
        return None
    recorded = engine.read_key(system.format_id, bitting_of(control)).cuts
    return all(cut in column for cut, column in zip(recorded, cuts, strict=True))
