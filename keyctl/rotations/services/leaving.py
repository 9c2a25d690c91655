"""Doors that are not done in their wave: not reached, moved to a later one, or left out for good."""

from collections.abc import Sequence

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english, in_sentence
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import report_unreached
from keyctl.orders.services.closing import close_when_worked
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, Wave
from keyctl.rotations.services.ending import end_when_all_done
from keyctl.rotations.services.locking import counted, locked_rotation, plan_is_stale, tell
from keyctl.rotations.services.planning import running_plan, start_plan
from keyctl.rotations.services.waving import close_wave_when_done


@transaction.atomic
def unreached(*, actor: User, door: RotationDoor, reason: str) -> RotationDoor:
    """Told on the rotation's own page; the order hears of it and tells back."""
    locked_rotation(actor, door.rotation)
    line = _open_lines([door]).select_related("order").first()
    if line is None:
        raise Refused(gettext("{door} waits in no order now. Move it to a later wave.").format(door=door))
    report_unreached(actor=actor, line=line, reason=reason)
    door.refresh_from_db()
    return door


@transaction.atomic
def move_later(*, actor: User, rotation: Rotation, version: int) -> Job:
    """What is left of the wave under way goes into later ones, which are worked out anew."""
    rotation = locked_rotation(actor, rotation, version)
    wave = rotation.waves.filter(state=Wave.State.BEGUN).first()
    doors = list(wave.doors.to_do().with_places()) if wave else []
    if wave is None or not doors:
        raise Conflict(
            gettext("No wave of {rotation} has doors left to do. Nothing was changed.").format(
                rotation=rotation
            )
        )
    out_of_its_wave(actor, doors, f"Moved to a later wave of {rotation}")
    plan_is_stale(rotation)
    save_next(rotation)
    moved = counted(len(doors), "door")
    sentence = f"moved {moved} of wave {wave.ordinal} of {in_english(rotation)} to later waves"
    tell(actor, rotation, "doors_moved", sentence, [door.housing.door for door in doors], doors=len(doors))
    return running_plan(rotation) or start_plan(actor=actor, rotation=rotation)


@transaction.atomic
def leave_out(*, actor: User, door: RotationDoor, reason: str) -> Rotation:
    """It keeps its old keys, and the page goes on saying so."""
    rotation = locked_rotation(actor, door.rotation)
    door = RotationDoor.objects.with_places().get(pk=door.pk)
    if door.state not in RotationDoor.TO_DO:
        raise Conflict(
            gettext("{door} is {value}. Nothing was changed.").format(
                door=door, value=in_sentence(door.get_state_display())
            )
        )
    if not reason.strip():
        raise Refused(gettext("Say why it keeps its old keys: who looks at the door later reads it."))
    wave = door.wave
    out_of_its_wave(actor, [door], f"Left out of {rotation}: {reason.strip()}")
    door.state, door.reason = RotationDoor.State.LEFT_OUT, reason.strip()[:200]
    door.save(update_fields=["state", "reason"])
    plan_is_stale(rotation)
    save_next(rotation)
    tell(
        actor,
        rotation,
        "door_left_out",
        f"left {in_english(door)} out of {in_english(rotation)}: {door.reason}",
        [door.housing.door],
    )
    if wave is not None and wave.state == Wave.State.PLANNED:
        _drop_empty(wave)
    end_when_all_done(actor, rotation)
    return rotation


def out_of_its_wave(actor: User, doors: Sequence[RotationDoor], why: str, *, free_cores: bool = True) -> None:
    """Their lines are cancelled, so that nobody swaps a core that is pinned for another door by then."""
    waves = {door.wave for door in doors if door.wave and door.wave.state == Wave.State.BEGUN}
    _let_go(actor, doors, why)
    meant = [door.meant_id for door in doors if door.meant_id]
    if free_cores and meant:
        mine = RotationCore.objects.filter(core__in=meant, is_running=True)
        mine.filter(state=RotationCore.State.SET_ASIDE).update(state=RotationCore.State.FREE)
    for door in doors:
        door.state, door.wave, door.meant = RotationDoor.State.WAITING, None, None
        door.reason = why[:200]
    RotationDoor.objects.bulk_update(doors, ["state", "wave", "meant", "reason"])
    for wave in waves:
        close_wave_when_done(wave)


def _let_go(actor: User, doors: Sequence[RotationDoor], why: str) -> None:
    lines = _open_lines(doors) | _lines_to_pin(doors)
    wanted = list(lines.values_list("pk", "order"))
    orders = WorkOrder.objects.select_for_update(of=("self",)).filter(pk__in={order for _, order in wanted})
    for order in orders.order_by("pk"):
        mine = [line for line, of in wanted if of == order.pk]
        OrderLine.objects.filter(pk__in=mine, state=OrderLine.State.OPEN).update(
            state=OrderLine.State.CANCELLED, note=why[:400]
        )
        close_when_worked(actor, order)


def _open_lines(doors: Sequence[RotationDoor]) -> QuerySet[OrderLine]:
    """Of the wave's own swap order; another order at the same housing is somebody else's."""
    return OrderLine.objects.filter(
        housing__in=[door.housing_id for door in doors],
        order__in=[door.wave.swap_order_id for door in doors if door.wave and door.wave.swap_order_id],
        state=OrderLine.State.OPEN,
    )


def _lines_to_pin(doors: Sequence[RotationDoor]) -> QuerySet[OrderLine]:
    return OrderLine.objects.filter(
        core__in=[door.meant_id for door in doors if door.meant_id],
        order__in=[door.wave.pin_order_id for door in doors if door.wave and door.wave.pin_order_id],
        state=OrderLine.State.OPEN,
    )


def _drop_empty(wave: Wave) -> None:
    if not wave.doors.exists():
        wave.delete()
