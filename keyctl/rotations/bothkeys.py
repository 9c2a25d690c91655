"""Who carries an old and a new key for the same doors: since when, until when, and whether that holds."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Count
from django.utils import timezone

from keyctl.keys.models import KeyCopy
from keyctl.rotations.crews import days_ahead
from keyctl.rotations.models import Rotation, RotationDoor
from keyctl.rotations.selectors import Progress
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE, ancestors, line_of

Done = RotationDoor.State.SWAPPED


@dataclass(frozen=True)
class BothKeys:
    """An old key some of whose doors are done and some are not; ``held`` copies are with people."""

    old: KeySymbol
    new: tuple[KeySymbol, ...]
    done: int
    to_do: int
    left_out: int
    since: date
    allowed_until: date | None
    ends_on: date | None
    held: int

    @property
    def is_late(self) -> bool:
        """By the calendar, or by the estimate of what is still to do."""
        if self.allowed_until is None:
            return False
        return max(timezone.localdate(), self.ends_on or self.since) > self.allowed_until

    @property
    def is_for_good(self) -> bool:
        """Only doors that were left out still take the old key."""
        return not self.to_do


@dataclass
class _Doors:
    states: dict[UUID, str]
    times: list[datetime]
    waves: list[int]
    new: dict[UUID, KeySymbol]


def both_keys(rotation: Rotation, progress: Progress) -> list[BothKeys]:
    """Masters first: who has one carries both for the longest."""
    found = [
        _row(rotation, progress, old, doors)
        for old, doors in _by_old_key(rotation).items()
        if Done in doors.states.values() and set(doors.states.values()) != {Done}
    ]
    held = _held(row.old.pk for row in found)
    rows = [BothKeys(**{**vars(row), "held": held.get(row.old.pk, 0)}) for row in found]
    return sorted(rows, key=lambda row: (not row.is_late, row.old.level or 0, row.old.symbol))


def _by_old_key(rotation: Rotation) -> dict[KeySymbol, _Doors]:
    """The old keys, and the masters above them that the new ones are not below."""
    pairs = list(rotation.keys.select_related("old__system", "new__system", f"old__{LINE}", f"new__{LINE}"))
    kept = {key.pk for pair in pairs for key in line_of(pair.new)}
    rows = defaultdict(list)
    through = RotationDoor.keys.through.objects.filter(rotationdoor__rotation=rotation)
    for pair, *facts in through.values_list(
        "rotationkey",
        "rotationdoor",
        "rotationdoor__state",
        "rotationdoor__swapped_at",
        "rotationdoor__wave__ordinal",
    ):
        rows[pair].append(facts)
    found: dict[KeySymbol, _Doors] = {}
    for each in pairs:
        line = [each.old, *(key for key in ancestors(each.old) if key.pk not in kept)]
        for key, new in zip(line, [each.new, *ancestors(each.new)], strict=False):
            doors = found.setdefault(key, _Doors({}, [], [], {}))
            doors.new[new.pk] = new
            _add(doors, rows[each.pk])
    return found


def _add(doors: _Doors, rows: Iterable[list[Any]]) -> None:
    for door, state, swapped_at, wave in rows:
        doors.states[door] = state
        if swapped_at is not None:
            doors.times.append(swapped_at)
        elif wave is not None:
            doors.waves.append(wave)


def _row(rotation: Rotation, progress: Progress, old: KeySymbol, doors: _Doors) -> BothKeys:
    states, since = list(doors.states.values()), timezone.localdate(min(doors.times))
    ends = {row.wave.ordinal: row.ends_on for row in progress.waves}
    allowed = rotation.allowed_days
    return BothKeys(
        old=old,
        new=tuple(doors.new.values()),
        done=states.count(Done),
        to_do=sum(state in RotationDoor.TO_DO for state in states),
        left_out=states.count(RotationDoor.State.LEFT_OUT),
        since=since,
        allowed_until=days_ahead(since, allowed) if allowed else None,
        ends_on=ends.get(max(doors.waves)) if doors.waves else None,
        held=0,
    )


def _held(keys: Iterable[UUID]) -> dict[UUID, int]:
    rows = KeyCopy.objects.filter(symbol__in=list(keys), state=KeyCopy.State.HELD)
    return dict(rows.order_by().values_list("symbol").annotate(held=Count("pk")))
