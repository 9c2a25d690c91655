"""Pausing, going on, the proof at the end, and giving up in the middle."""

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.lib.errors import Refused
from keyctl.lib.holding import held, save_next
from keyctl.lib.language import in_english
from keyctl.orders import services as orders
from keyctl.rotations.models import Rotation, RotationDoor, Wave
from keyctl.rotations.services.locking import (
    State,
    counted,
    doors_counted,
    locked_rotation,
    plan_is_stale,
    tell,
)
from keyctl.systems.selectors import LINE, ancestors, line_of


@dataclass(frozen=True)
class Proof:
    """Whether the cores that are in the doors now turn with an old key, read from the turns of the pins."""

    cores: int
    keys: int
    still_turned: tuple[Turn, ...]
    not_looked_at: int

    @property
    def is_clean(self) -> bool:
        return not self.still_turned


@transaction.atomic
def pause(*, actor: User, rotation: Rotation, version: int) -> Rotation:
    """No wave begins; what is under way at the doors may be finished."""
    rotation = locked_rotation(actor, rotation, version, states=[State.WORKING])
    rotation.state = State.PAUSED
    save_next(rotation, "state")
    tell(actor, rotation, "paused", f"paused {in_english(rotation)}")
    return rotation


@transaction.atomic
def resume(*, actor: User, rotation: Rotation, version: int) -> Rotation:
    rotation = locked_rotation(actor, rotation, version, states=[State.PAUSED])
    rotation.state = State.WORKING
    save_next(rotation, "state")
    tell(actor, rotation, "resumed", f"went on with {in_english(rotation)}")
    end_when_all_done(actor, rotation)
    return rotation


@transaction.atomic
def finish(*, actor: User, rotation: Rotation, version: int) -> Proof:
    """Try once more to end it: every door is done, and the old keys turn nothing in them."""
    rotation = locked_rotation(actor, rotation, version, states=[State.WORKING, State.PAUSED])
    if left := rotation.doors.to_do().count():
        raise Refused(
            _("{counted} of {rotation} are still to do.").format(
                counted=doors_counted(left), rotation=rotation
            )
        )
    proof = prove(rotation)
    _end_if_clean(actor, rotation, proof)
    return proof


@transaction.atomic
def cancel(*, actor: User, rotation: Rotation, version: int, reason: str) -> Rotation:
    """Doors that are done stay done; the others keep their old keys."""
    rotation = locked_rotation(actor, rotation, version)
    if not reason.strip():
        raise Refused(_("Say why it ends here: who carries two keys will ask."))
    left = rotation.doors.to_do().count()
    if rotation.umbrella is not None:
        orders.drop_order(actor=actor, order=rotation.umbrella)
    why = f"{rotation} was cancelled: {reason.strip()}"[:200]
    rotation.doors.to_do().update(state=RotationDoor.State.LEFT_OUT, reason=why)
    rotation.waves.filter(state=Wave.State.PLANNED).delete()
    now = timezone.now()
    rotation.waves.filter(state=Wave.State.BEGUN).update(state=Wave.State.DONE, done_at=now)
    plan_is_stale(rotation)
    _end(actor, rotation, State.CANCELLED, reason.strip()[:400])
    sentence = f"cancelled {in_english(rotation)}; doors left as they were: {left:,}"
    tell(actor, rotation, "cancelled", sentence, doors=left)
    return rotation


def end_when_all_done(actor: User, rotation: Rotation) -> None:
    """After the last door; where the proof is not clean, the page says which cores, and it stays open."""
    if rotation.state not in {State.WORKING, State.PAUSED} or rotation.doors.to_do().exists():
        return
    _end_if_clean(actor, held(Rotation.objects.with_names(), rotation.pk), prove(rotation))


def prove(rotation: Rotation) -> Proof:
    """Over every housing that was done. Those left out are not looked at: they keep their old keys."""
    done = rotation.doors.filter(state=RotationDoor.State.SWAPPED)
    in_doors = Core.objects.filter(housing__in=done.values("housing"), pinning__isnull=False)
    old = old_keys(rotation)
    turns = Turn.objects.filter(core__in=in_doors, symbol__in=old, operates=True)
    return Proof(
        cores=in_doors.count(),
        keys=len(old),
        still_turned=tuple(
            turns.select_related("core__housing__door__floor__building__site", "symbol__system").order_by(
                "core__tag"
            )
        ),
        not_looked_at=rotation.doors.filter(state=RotationDoor.State.LEFT_OUT).count(),
    )


def old_keys(rotation: Rotation) -> list[UUID]:
    """The old keys and the masters above them, without those that shall turn the new cores too."""
    pairs = rotation.keys.select_related(f"old__{LINE}", f"new__{LINE}")
    before = {key.pk for pair in pairs for key in (pair.old, *ancestors(pair.old))}
    after = {key.pk for pair in pairs for key in line_of(pair.new)}
    return sorted(before - after)


def _end_if_clean(actor: User, rotation: Rotation, proof: Proof) -> None:
    tried = f"{counted(proof.keys, 'old key')} on {counted(proof.cores, 'core')}"
    if not proof.is_clean:
        left = len({turn.core_id for turn in proof.still_turned})
        sentence = f"tried {tried} of {in_english(rotation)}: {counted(left, 'core')} still turned"
        tell(actor, rotation, "not_proven", sentence, cores=proof.cores, left=left)
        return
    if rotation.umbrella is not None:
        orders.no_more_parts(actor=actor, area=rotation.umbrella)
    # Kept with the rotation and in history, so in one language.
    outcome = f"Tried {tried}: none turns."
    if proof.not_looked_at:
        outcome += f" Left out: {counted(proof.not_looked_at, 'door')}, which keep their old keys."
    _end(actor, rotation, State.DONE, outcome)
    sentence = f"finished {in_english(rotation)}. {outcome}"
    tell(actor, rotation, "done", sentence, cores=proof.cores, keys=proof.keys)


def _end(actor: User, rotation: Rotation, state: Rotation.State, outcome: str) -> None:
    rotation.state, rotation.outcome = state, outcome
    rotation.ended_by, rotation.ended_at = actor, timezone.now()
    save_next(rotation, "state", "outcome", "ended_by", "ended_at")
    rotation.doors.update(is_running=False)
    rotation.cores.update(is_running=False)
