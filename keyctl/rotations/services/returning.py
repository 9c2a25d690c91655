"""Cores on their way: back at the bench, broken, or in use again."""

from collections.abc import Sequence

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores import services as cores
from keyctl.cores.models import Core, Turn
from keyctl.cores.waiting import IN_HAND
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english, in_sentence
from keyctl.lib.tags import clean_tag, grouped
from keyctl.rotations.models import Rotation, RotationCore
from keyctl.rotations.services.ending import old_keys
from keyctl.rotations.services.leaving import out_of_its_wave
from keyctl.rotations.services.locking import counted, locked_rotation, plan_is_stale, tell

MOST_NAMED = 10


@transaction.atomic
def bring_back(*, actor: User, rotation: Rotation, tags: Sequence[str]) -> list[RotationCore]:
    """Scanned or ticked at the bench. All or none: a tag that is not of here is a mix-up to look into."""
    rotation = locked_rotation(actor, rotation)
    wanted = list(dict.fromkeys(tag for tag in map(clean_tag, tags) if tag))
    if not wanted:
        raise Refused(_("No core is named. Scan the cores that are back, or tick them."))
    rows = rotation.cores.filter(core__tag__in=wanted).select_for_update(of=("self",))
    found = {each.core.tag: each for each in rows.select_related("core__site", "core__carrier")}
    if reasons := [why for tag in wanted if (why := _why_not_back(tag, found.get(tag)))]:
        raise Refused(_("Nothing was brought back."), reasons=reasons[:MOST_NAMED])
    back = [found[tag] for tag in wanted if found[tag].state == RotationCore.State.COMING_BACK]
    for each in back:
        _to_bench(actor, each.core)
        each.state, each.back_at = RotationCore.State.FREE, timezone.now()
    RotationCore.objects.bulk_update(back, ["state", "back_at"])
    if back:
        sentence = f"brought {counted(len(back), 'core')} of {in_english(rotation)} back to the bench"
        tell(actor, rotation, "cores_back", sentence, [each.core for each in back], cores=len(back))
    return back


@transaction.atomic
def give_up_core(*, actor: User, core: RotationCore, reason: str) -> Rotation:
    """Broken or missing: it goes round no more. If it was for a door, that door gets another one later."""
    rotation = locked_rotation(actor, core.rotation)
    core = _locked(core)
    if core.state not in RotationCore.GOING_ROUND:
        raise Conflict(
            _("Core {core} is {value}. Nothing was changed.").format(
                core=core, value=in_sentence(core.get_state_display())
            )
        )
    if not reason.strip():
        raise Refused(_("Say what is wrong with it: broken, missing, kept for something else."))
    doors = rotation.doors.to_do().filter(meant=core.core).with_places()
    core.state, core.note = RotationCore.State.BROKEN, reason.strip()[:200]
    core.save(update_fields=["state", "note"])
    out_of_its_wave(actor, list(doors), f"Its core {core} is given up: {reason.strip()}", free_cores=False)
    plan_is_stale(rotation)
    save_next(rotation)
    sentence = f"gave up core {core} in {in_english(rotation)}: {core.note}"
    tell(actor, rotation, "core_given_up", sentence, [core.core])
    return rotation


@transaction.atomic
def use_core_again(*, actor: User, core: RotationCore) -> Rotation:
    rotation = locked_rotation(actor, core.rotation)
    core = _locked(core)
    if core.state != RotationCore.State.BROKEN:
        raise Conflict(
            _("Core {core} is {value}. Nothing was changed.").format(
                core=core, value=in_sentence(core.get_state_display())
            )
        )
    if core.core.place not in {Core.Place.SHELF, Core.Place.BENCH}:
        raise Refused(
            _("Core {core} is {whereabouts}; bring it to the bench first.").format(
                core=core, whereabouts=core.core.whereabouts
            )
        )
    core.state, core.note = RotationCore.State.FREE, ""
    core.save(update_fields=["state", "note"])
    plan_is_stale(rotation)
    save_next(rotation)
    tell(actor, rotation, "core_again", f"took core {core} into {in_english(rotation)} again", [core.core])
    return rotation


@transaction.atomic
def empty_old_pins(*, actor: User, rotation: Rotation) -> list[Core]:
    """After the end: cores in hand that an old key still turns; their pins are thrown back into the bins."""
    found = [each.core for each in with_old_pins(rotation)]
    if not found:
        raise Refused(
            _("No core of {rotation} that is in hand holds old pins any more.").format(rotation=rotation)
        )
    return cores.empty_cores(actor=actor, site=rotation.site, cores=found)


def with_old_pins(rotation: Rotation) -> QuerySet[RotationCore]:
    turned = Turn.objects.filter(symbol__in=old_keys(rotation), operates=True)
    rows = rotation.cores.filter(core__place__in=IN_HAND, core__in=turned.values("core"))
    rows = rows.filter(core__disputed_at__isnull=True)
    return rows.select_related("core__site", "core__carrier").order_by("core__tag")


def _why_not_back(tag: str, found: RotationCore | None) -> str | None:
    if found is None:
        return _("Core {grouped} does not go round in this rotation. Look at its tag again.").format(
            grouped=grouped(tag)
        )
    if found.state == RotationCore.State.IN_DOOR:
        return _("Core {found} is in its door by the records. Look at its tag again.").format(found=found)
    if found.core.place in {Core.Place.HOUSING, Core.Place.GONE}:
        return _("Core {found} is {whereabouts} by the records. Put that right first.").format(
            found=found, whereabouts=found.core.whereabouts
        )
    return None


def _to_bench(actor: User, core: Core) -> None:
    if core.place != Core.Place.BENCH:
        cores.move_core(actor=actor, core=core, version=core.version, place=Core.Place.BENCH)


def _locked(core: RotationCore) -> RotationCore:
    rows = RotationCore.objects.select_for_update(of=("self",)).select_related("core__site", "core__carrier")
    return rows.get(pk=core.pk)
