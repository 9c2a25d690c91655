"""Working out the waves as a job: what has begun or is done stays, the rest is dealt out anew."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.rotations.access import WORKERS
from keyctl.rotations.models import Rotation, RotationDoor, Wave
from keyctl.rotations.questions import Answer, answer, next_ordinal
from keyctl.rotations.services.locking import counted, locked_rotation, tell

PLAN = "rotations.plan"
DOING = gettext_lazy("Dealing doors out into waves")
DOORS_AT_ONCE = 500


@transaction.atomic
def start_plan(*, actor: User, rotation: Rotation) -> Job:
    rotation = locked_rotation(actor, rotation)
    if running_plan(rotation):
        raise Conflict(
            _("The waves of {rotation} are being worked out already; the job tells how far it is.").format(
                rotation=rotation
            )
        )
    return start_job(
        actor=actor,
        kind=PLAN,
        site=rotation.site,
        parameters={"rotation": str(rotation.pk)},
        subjects=[rotation],
        back_url=reverse("rotations:detail", args=[rotation.pk]),
        about=in_english(rotation),
    )


def running_plan(rotation: Rotation) -> Job | None:
    return Job.objects.unfinished().about(rotation).filter(kind=PLAN).first()


def run_plan(running: Running) -> dict[str, Any]:
    """The work of the job. It reads until it keeps its plan, so that after a stop it begins anew."""
    rotation = Rotation.objects.with_names().get(pk=running.parameters["rotation"])
    require_role(running.actor, rotation.site, *WORKERS)
    running.step(0, 2, DOING)
    found = answer(rotation)
    running.step(1, 2, _("Writing the waves down"))
    with transaction.atomic():
        rotation = keep_plan(running.actor, rotation, found)
    running.step(2, 2, _("Writing the waves down"))
    return {
        "sentence": _sentence(rotation, found),
        "url": reverse("rotations:detail", args=[rotation.pk]),
        "facts": {
            _("Waves"): len(found.waves),
            _("Visits"): found.visits,
            _("No plan has fewer than"): found.fewest_visits,
            _("Gap in per cent"): round(rotation.gap, 1),
        },
    }


def keep_plan(actor: User, seen: Rotation, found: Answer) -> Rotation:
    """In the caller's transaction. A plan of what has changed since is not kept."""
    rotation = locked_rotation(actor, seen)
    if rotation.plan_version != seen.plan_version:
        raise Refused(
            _(
                "Doors, cores or the crew of {rotation} changed while the waves were worked out. Have them "
                "worked out anew."
            ).format(rotation=rotation)
        )
    rotation.waves.filter(state=Wave.State.PLANNED).delete()
    first = next_ordinal(rotation)
    for ordinal, doors in enumerate(found.waves, first):
        _put(Wave.objects.create(rotation=rotation, ordinal=ordinal), doors)
    rotation.planned_at, rotation.plan_words = timezone.now(), found.words[:400]
    rotation.visits, rotation.fewest_visits = found.visits, found.fewest_visits
    save_next(rotation, "planned_at", "plan_words", "visits", "fewest_visits")
    tell(actor, rotation, "planned", _sentence(rotation, found), waves=len(found.waves), visits=found.visits)
    return rotation


def _put(wave: Wave, doors: Sequence[RotationDoor]) -> None:
    for start in range(0, len(doors), DOORS_AT_ONCE):
        part = [door.pk for door in doors[start : start + DOORS_AT_ONCE]]
        RotationDoor.objects.filter(pk__in=part).update(wave=wave)


def _sentence(rotation: Rotation, found: Answer) -> str:
    if not found.waves:
        return f"found no waves for {in_english(rotation)}: {found.words or 'no door is left to do.'}"
    total = sum(map(len, found.waves))
    return (
        f"dealt {counted(total, 'door')} of {in_english(rotation)} out into "
        f"{counted(len(found.waves), 'wave')} with {counted(found.visits, 'visit')}; "
        f"no plan has fewer than {found.fewest_visits:,}"
    )
