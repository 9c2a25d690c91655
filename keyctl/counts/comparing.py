"""What a count found against what the register says: values in, differences out; no database.

The register moves while people count. A copy that was here at the start and was not scanned is missing only
if nobody handled it since: its version is the same at the close. A scanned copy is in its place if the
register had it here when it was scanned, or has it here at the close (it was just being brought back).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from uuid import UUID

from keyctl.counts.models import CountCase

Kind = CountCase.Kind
LOST, DESTROYED = "lost", "destroyed"
GONE_KINDS = {LOST: Kind.LOST_FOUND, DESTROYED: Kind.DESTROYED_FOUND}


@dataclass(frozen=True)
class Standing:
    """Where the register has a copy: its state, and the cabinet or the holder."""

    state: str
    place: UUID | None
    version: int = 0


@dataclass(frozen=True)
class Scanned:
    """``copy`` is None for a serial that nobody knows; ``standing`` is of the moment of the scan."""

    serial: str
    copy: UUID | None
    standing: Standing | None
    is_declared: bool = False


@dataclass(frozen=True)
class Difference:
    kind: CountCase.Kind
    copy: UUID | None
    serial: str
    is_declared: bool = False


@dataclass(frozen=True)
class Outcome:
    """``handled`` are expected copies that nobody scanned and somebody moved while the count ran."""

    sighted: int
    declared: int
    handled: int
    differences: tuple[Difference, ...]


def compare(
    place: UUID | None,
    expected: Mapping[UUID, Standing],
    scans: Iterable[Scanned],
    now: Mapping[UUID, Standing],
    *,
    accepts_declared: bool = False,
) -> Outcome:
    """``place`` is the cabinet or holder counted; None where keys are sought wherever they are."""
    scans = list(scans)
    sighted = {scan.copy for scan in scans if scan.copy and not scan.is_declared}
    declared = {scan.copy for scan in scans if scan.copy and scan.is_declared}
    counted = sighted | declared if accepts_declared else sighted
    unseen = [copy for copy in expected if copy not in counted]
    missing = [copy for copy in unseen if now[copy].version == expected[copy].version]
    wrong = [found for scan in scans if not scan.is_declared and (found := _wrong(place, scan, now))]
    return Outcome(
        sighted=len(sighted & expected.keys()),
        declared=len((declared - sighted) & expected.keys()),
        handled=len(unseen) - len(missing),
        differences=(*(Difference(Kind.MISSING, copy, "", copy in declared) for copy in missing), *wrong),
    )


def _wrong(place: UUID | None, scan: Scanned, now: Mapping[UUID, Standing]) -> Difference | None:
    """What is wrong with a scanned key, if anything is."""
    if scan.copy is None or scan.standing is None:
        return Difference(Kind.UNKNOWN, None, scan.serial)
    then, after = scan.standing, now[scan.copy]
    if then.state == after.state and then.state in GONE_KINDS:
        return Difference(GONE_KINDS[then.state], scan.copy, scan.serial)
    if place is None or place in (then.place, after.place):
        return None
    return Difference(Kind.MISPLACED, scan.copy, scan.serial)
