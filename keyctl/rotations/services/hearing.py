"""What orders tell: a door was swapped, or could not be reached. Called inside their transactions.

A physical fact is never refused: where a core went in that is not keyed to the new keys, the door is to do
again.
"""

from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.holding import held
from keyctl.lib.language import in_english
from keyctl.orders.models import OrderLine
from keyctl.rotations.keyed import new_keys
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor
from keyctl.rotations.services.ending import end_when_all_done
from keyctl.rotations.services.locking import State, plan_is_stale, tell
from keyctl.rotations.services.waving import close_wave_when_done

LIVE = (State.WORKING, State.PAUSED)


def door_swapped(actor: User, line: OrderLine) -> None:
    door = _door_of(line)
    if door is None or line.core is None:
        return
    rotation = held(Rotation.objects.with_names(), door.rotation_id)
    if rotation.state not in LIVE:
        return
    if not _is_keyed_anew(door, line.core):
        _do_again(actor, rotation, door, line)
        return
    _keep(door, line)
    wave = door.wave
    if wave and close_wave_when_done(wave):
        sentence = f"finished wave {wave.ordinal} of {in_english(rotation)}"
        tell(actor, rotation, "wave_done", sentence, wave=wave.ordinal)
    end_when_all_done(actor, rotation)


def door_unreached(_actor: User, line: OrderLine, reason: str) -> None:
    """It stays in its wave, and the page asks: once more, or in a later wave."""
    door = _door_of(line)
    if door is None or door.wave is None or door.wave.swap_order_id != line.order_id:
        return
    door.state, door.reason = RotationDoor.State.UNREACHED, reason[:200]
    door.save(update_fields=["state", "reason"])


def _door_of(line: OrderLine) -> RotationDoor | None:
    if line.housing_id is None:
        return None
    rows = RotationDoor.objects.to_do().filter(housing=line.housing_id, is_running=True)
    return rows.select_related("rotation", "wave").select_for_update(of=("self",)).first()


def _is_keyed_anew(door: RotationDoor, core: Core) -> bool:
    wanted = {key.pk for key in new_keys([door])[door.pk]}
    return wanted == set(core.keyed_to.values_list("pk", flat=True))


def _keep(door: RotationDoor, line: OrderLine) -> None:
    meant, door.state, door.reason = door.meant, RotationDoor.State.SWAPPED, ""
    door.core_in, door.core_out, door.swapped_at = line.core, line.core_out, timezone.now()
    door.save(update_fields=["state", "reason", "core_in", "core_out", "swapped_at"])
    if meant is not None and meant != line.core:
        set_free(door.rotation, meant)
    _goes_round(door).filter(core=line.core).update(state=RotationCore.State.IN_DOOR)
    if line.core_out is not None:
        _comes_out(door, line.core_out)


def _do_again(actor: User, rotation: Rotation, door: RotationDoor, line: OrderLine) -> None:
    wave, meant = door.wave, door.meant
    door.state, door.wave, door.meant = RotationDoor.State.WAITING, None, None
    door.save(update_fields=["state", "wave", "meant"])
    if meant is not None:
        set_free(rotation, meant)
    if line.core_out is not None:
        _comes_out(door, line.core_out)
    _goes_round(door).filter(core=line.core).update(state=RotationCore.State.IN_DOOR)
    if wave:
        close_wave_when_done(wave)
    plan_is_stale(rotation)
    tell(
        actor,
        rotation,
        "door_again",
        f"put core {line.core} into {in_english(door)}, "
        f"which is not keyed to the new keys of {in_english(rotation)}: to do again",
        [door.housing.door],
    )


def set_free(rotation: Rotation, core: Core) -> None:
    mine = RotationCore.objects.filter(rotation=rotation, core=core, state=RotationCore.State.SET_ASIDE)
    mine.update(state=RotationCore.State.FREE)


def _comes_out(door: RotationDoor, core: Core) -> None:
    """It goes round from now on; if it was put on the bench, it is back already."""
    if core.format_id != door.format_id:
        return
    is_back = core.place == Core.Place.BENCH
    facts = {
        "state": RotationCore.State.FREE if is_back else RotationCore.State.COMING_BACK,
        "came_from": door,
        "back_at": timezone.now() if is_back else None,
    }
    if _goes_round(door).filter(core=core).update(**facts):
        return
    if not RotationCore.objects.filter(core=core, is_running=True).exists():
        RotationCore.objects.create(rotation=door.rotation, core=core, **facts)


def _goes_round(door: RotationDoor) -> QuerySet[RotationCore]:
    return RotationCore.objects.filter(rotation=door.rotation_id, is_running=True)
