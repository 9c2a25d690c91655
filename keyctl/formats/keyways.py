"""The blank table: reading it, and writing rows down or taking them out."""

from collections.abc import Collection

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.formats import fitting
from keyctl.formats.access import require_fitter
from keyctl.formats.models import KeywayFit
from keyctl.lib.errors import Conflict, Refused


def blanks_into(core_keyway: str) -> list[str]:
    """The keyways whose blanks enter such a core: its own first."""
    fits = KeywayFit.objects.filter(core_keyway=core_keyway)
    return [core_keyway, *fits.values_list("blank_keyway", flat=True)]


def blanks_by_keyway(core_keyways: Collection[str]) -> dict[str, list[str]]:
    """``blanks_into`` for many at once."""
    found = {keyway: [keyway] for keyway in core_keyways}
    for core, blank in KeywayFit.objects.filter(core_keyway__in=core_keyways).values_list(
        "core_keyway", "blank_keyway"
    ):
        found[core].append(blank)
    return found


def keyways_entered_by(blank_keyway: str) -> list[str]:
    """The keyways of the cores that such a blank enters: its own first."""
    fits = KeywayFit.objects.filter(blank_keyway=blank_keyway)
    return [blank_keyway, *fits.values_list("core_keyway", flat=True)]


@transaction.atomic
def add_keyway_fit(*, actor: User, blank_keyway: str, core_keyway: str, reason: str) -> KeywayFit:
    """Say that a blank enters a keyway. The turns are worked out at once, or left to the next proof."""
    require_fitter(actor)
    blank, core = blank_keyway.strip(), core_keyway.strip()
    _refuse(blank, core, reason)
    fit = _store(KeywayFit(blank_keyway=blank, core_keyway=core, reason=reason.strip(), made_by=actor))
    if fitting.tell_added(fit):
        fit.tried_at = timezone.now()
        fit.save(update_fields=["tried_at"])
    record(
        actor=actor,
        verb="keyway.fits",
        sentence=f"noted that blanks of keyway {blank} enter cores of keyway {core}: {fit.reason}",
        subjects=[fit],
        detail={"turns_up_to_date": fit.tried_at is not None},
    )
    return fit


@transaction.atomic
def remove_keyway_fit(*, actor: User, fit: KeywayFit) -> None:
    """Take a row out of the table; the turns that rested on it go with it."""
    require_fitter(actor)
    found = KeywayFit.objects.select_for_update().filter(pk=fit.pk).first()
    if found is None:
        raise Conflict(_("Somebody has just taken {fit} out of the table.").format(fit=fit))
    fitting.tell_removed(found)
    record(
        actor=actor,
        verb="keyway.fits_not",
        sentence=(
            f"noted that blanks of keyway {found.blank_keyway} do not enter "
            f"cores of keyway {found.core_keyway}"
        ),
        subjects=[found],
    )
    found.delete()


def mark_tried() -> None:
    """A proof has tried every key that enters a core."""
    KeywayFit.objects.filter(tried_at__isnull=True).update(tried_at=timezone.now())


def _refuse(blank: str, core: str, reason: str) -> None:
    if not blank or not core:
        raise Refused(_("Name the keyway of the blank and that of the core."))
    if blank == core:
        raise Refused(
            _("A blank of keyway {blank} enters its own keyway without being told so.").format(blank=blank)
        )
    if not reason.strip():
        raise Refused(_("Say how you know it: a blank table, or a trial at the bench."))
    known = fitting.known_keyways()
    if unknown := [keyway for keyway in (blank, core) if keyway not in known]:
        raise Refused(
            _("No key system has the keyway {unknown}; write it as its system does.").format(
                unknown=" or ".join(unknown)
            ),
            reasons=[_("In use: {known}.").format(known=", ".join(known))] if known else (),
        )


def _store(fit: KeywayFit) -> KeywayFit:
    try:
        with transaction.atomic():
            fit.save(force_insert=True)
    except IntegrityError:
        raise Conflict(
            _("The table says already that {blank_keyway} enters {core_keyway}.").format(
                blank_keyway=fit.blank_keyway, core_keyway=fit.core_keyway
            )
        ) from None
    return fit
