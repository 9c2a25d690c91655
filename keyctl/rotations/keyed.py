"""What the doors of a rotation are keyed to from now on, and which cores are pinned for that already."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from keyctl.cores.models import Core, Keying
from keyctl.rotations.models import RotationDoor
from keyctl.systems.models import KeySymbol

Keys = dict[UUID, list[KeySymbol]]


def new_keys(doors: Iterable[RotationDoor]) -> Keys:
    """What each door's core is keyed to from now on."""
    pairs = RotationDoor.keys.through.objects.filter(rotationdoor__in=[door.pk for door in doors])
    found: Keys = {}
    for pair in pairs.select_related("rotationkey__new__system").order_by("rotationkey__new__symbol"):
        found.setdefault(pair.rotationdoor_id, []).append(pair.rotationkey.new)
    return {door: list({key.pk: key for key in keys}.values()) for door, keys in found.items()}


def keyed_and_pinned(listed: Sequence[Core]) -> dict[UUID, frozenset[UUID]]:
    """By core that is pinned, what it is keyed to; without cores keyed anew since they were pinned."""
    keyed: dict[UUID, set[UUID]] = {}
    last: dict[UUID, datetime] = {}
    for core, key, made in Keying.objects.filter(core__in=listed).values_list("core", "symbol", "made_at"):
        keyed.setdefault(core, set()).add(key)
        if made is not None:
            last[core] = max(made, last.get(core, made))
    return {
        core.pk: frozenset(keyed[core.pk])
        for core in listed
        if core.pinned_at and core.pk in keyed and core.pinned_at >= last.get(core.pk, core.pinned_at)
    }
