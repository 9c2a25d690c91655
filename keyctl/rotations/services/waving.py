"""The plan is accepted; a wave begins: its cores are keyed anew, and ordered to be pinned and swapped."""

from collections import Counter
from collections.abc import Sequence
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores import services as cores
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.orders import services as orders
from keyctl.orders.models import WorkOrder
from keyctl.rotations.keyed import Keys, keyed_and_pinned, new_keys
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave
from keyctl.rotations.services.locking import (
    State,
    cores_counted,
    counted,
    doors_counted,
    locked_rotation,
    plan_is_stale,
    tell,
)
from keyctl.systems.models import KeySymbol, KeySystem

MOST_NAMED = 10
ROWS_AT_ONCE = 500

Pool = dict[str, list[RotationCore]]


@transaction.atomic
def accept_plan(*, actor: User, rotation: Rotation, version: int) -> Rotation:
    """The work may begin: from now on the rotation stands in the orders too."""
    rotation = locked_rotation(actor, rotation, version, states=[State.PLANNED])
    if not rotation.waves.exists():
        raise Refused(_("{rotation} has no waves yet. Have them worked out first.").format(rotation=rotation))
    rotation.umbrella = orders.write_area(
        actor=actor, site=rotation.site, title=f"{rotation.title} ({rotation})"[:160], more_to_come=True
    )
    rotation.state = State.WORKING
    save_next(rotation, "umbrella", "state")
    tell(actor, rotation, "accepted", f"accepted the plan of {in_english(rotation)}", [rotation.umbrella])
    return rotation


@transaction.atomic
def begin_wave(*, actor: User, rotation: Rotation, version: int) -> Wave:
    """The next wave: a core for each of its doors, an order to pin them and one to swap them."""
    rotation = locked_rotation(actor, rotation, version, states=[State.WORKING])
    wave = _next_wave(rotation)
    doors = list(wave.doors.filter(state=RotationDoor.State.WAITING).with_places())
    if not doors:
        raise Refused(_("{wave} has no door left. Have the waves worked out anew.").format(wave=wave))
    keys = new_keys(doors)
    chosen = _chosen(rotation, doors, keys)
    to_pin = _keyed_anew(actor, rotation, doors, chosen, keys)
    part = orders.write_part(
        actor=actor,
        area=_umbrella(rotation),
        title=_("{rotation}, wave {number}").format(rotation=rotation, number=wave.ordinal),
        pairs={door.housing: chosen[door.pk].core for door in doors},
        to_pin=to_pin,
    )
    _mark(doors, chosen)
    wave.state, wave.begun_at = Wave.State.BEGUN, timezone.now()
    wave.pin_order, wave.swap_order = part.pin, part.swap
    wave.save(update_fields=["state", "begun_at", "pin_order", "swap_order"])
    plan_is_stale(rotation)
    save_next(rotation)
    sentence = f"began wave {wave.ordinal} of {in_english(rotation)}: {counted(len(doors), 'door')}"
    things = [order for order in (part.pin, part.swap) if order]
    tell(
        actor, rotation, "wave_begun", sentence, things, wave=wave.ordinal, doors=len(doors), pins=len(to_pin)
    )
    return wave


def _next_wave(rotation: Rotation) -> Wave:
    begun = rotation.waves.filter(state=Wave.State.BEGUN).first()
    if begun:
        left = begun.doors.to_do().count()
        raise Conflict(
            _("{begun} still has {counted} to do. Swap them, or move them to a later wave.").format(
                begun=begun, counted=doors_counted(left)
            )
        )
    wave = rotation.waves.filter(state=Wave.State.PLANNED).order_by("ordinal").first()
    if wave is None:
        raise Refused(
            _("{rotation} has no wave to come. Have the waves worked out anew.").format(rotation=rotation)
        )
    return wave


def _umbrella(rotation: Rotation) -> WorkOrder:
    if rotation.umbrella is None or not rotation.umbrella.is_open:
        raise Refused(
            _(
                "The order of {rotation} was closed. Cancel the rotation and start another for the rest."
            ).format(rotation=rotation)
        )
    return rotation.umbrella


def _chosen(rotation: Rotation, doors: Sequence[RotationDoor], keys: Keys) -> dict[UUID, RotationCore]:
    """A core at hand for each door: one that is pinned for its keys already, before any other."""
    pool = _pool(rotation, doors)
    ready = keyed_and_pinned([each.core for listed in pool.values() for each in listed])
    wanted = {door.pk: frozenset(key.pk for key in keys[door.pk]) for door in doors}
    chosen: dict[UUID, RotationCore] = {}
    for door in doors:
        found = next(
            (each for each in pool[door.format_id] if ready.get(each.core_id) == wanted[door.pk]), None
        )
        if found:
            pool[door.format_id].remove(found)
            chosen[door.pk] = found
    for door in doors:
        if door.pk not in chosen:
            chosen[door.pk] = pool[door.format_id].pop(0)
    return chosen


def _pool(rotation: Rotation, doors: Sequence[RotationDoor]) -> Pool:
    rows = (
        rotation.cores.filter(state=RotationCore.State.FREE, core__disputed_at__isnull=True)
        .select_related("core")
        .select_for_update(of=("self",))
    )
    pool: Pool = {}
    for each in rows:
        pool.setdefault(each.core.format_id, []).append(each)
    for name, needed in Counter(door.format_id for door in doors).items():
        if needed > len(pool.get(name, ())):
            raise Refused(_too_few(rotation, name, needed, len(pool.get(name, ()))))
    return pool


def _too_few(rotation: Rotation, name: str, needed: int, there: int) -> str:
    away = rotation.cores.filter(state=RotationCore.State.COMING_BACK, core__format_id=name).count()
    if needed <= there + away:
        return _(
            "The wave takes {counted} of the format {name} and {there} are at the bench. Bring back "
            "those that came out: {away} are still to come."
        ).format(counted=cores_counted(needed), name=name, there=there, away=away)
    return _(
        "The wave takes {counted} of the format {name} and only {number} go round. Give more, or "
        "have the waves worked out anew."
    ).format(counted=cores_counted(needed), name=name, number=there + away)


def _keyed_anew(
    actor: User,
    rotation: Rotation,
    doors: Sequence[RotationDoor],
    chosen: dict[UUID, RotationCore],
    keys: Keys,
) -> list[Core]:
    """The cores to pin; those that are pinned for these keys already are left as they are."""
    ready = keyed_and_pinned([each.core for each in chosen.values()])
    by_system: dict[KeySystem, dict[UUID, list[KeySymbol]]] = {}
    for door in doors:
        core = chosen[door.pk].core_id
        if ready.get(core) != frozenset(key.pk for key in keys[door.pk]):
            by_system.setdefault(keys[door.pk][0].system, {})[core] = keys[door.pk]
    for system, keyings in by_system.items():
        cores.rekey_cores(actor=actor, site=rotation.site, system=system, keyings=keyings)
    wanted = {core for keyings in by_system.values() for core in keyings}
    return [chosen[door.pk].core for door in doors if chosen[door.pk].core_id in wanted]


def _mark(doors: Sequence[RotationDoor], chosen: dict[UUID, RotationCore]) -> None:
    for door in doors:
        door.meant = chosen[door.pk].core
        chosen[door.pk].state = RotationCore.State.SET_ASIDE
    RotationDoor.objects.bulk_update(doors, ["meant"], batch_size=ROWS_AT_ONCE)
    RotationCore.objects.bulk_update(chosen.values(), ["state"], batch_size=ROWS_AT_ONCE)


def close_wave_when_done(wave: Wave) -> bool:
    """A wave is done when none of its doors is left to do."""
    if wave.state != Wave.State.BEGUN or wave.doors.to_do().exists():
        return False
    last = wave.doors.aggregate(last=Max("swapped_at"))["last"]
    wave.state, wave.done_at = Wave.State.DONE, last or timezone.now()
    wave.save(update_fields=["state", "done_at"])
    return True
