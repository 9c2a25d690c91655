"""The blank table: reading it, and writing rows down or taking them out."""

from django.db import IntegrityError, transaction
from django.utils import timezone

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
        raise Conflict(f"Somebody has just taken {fit} out of the table.")
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
        raise Refused("Name the keyway of the blank and that of the core.")
    if blank == core:
        raise Refused(f"A blank of keyway {blank} enters its own keyway without being told so.")
    if not reason.strip():
        raise Refused("Say how you know it: a blank table, or a trial at the bench.")
    known = fitting.known_keyways()
    if unknown := [keyway for keyway in (blank, core) if keyway not in known]:
        raise Refused(
            f"No key system has the keyway {' or '.join(unknown)}; write it as its system does.",
            reasons=[f"In use: {', '.join(known)}."] if known else (),
        )


def _store(fit: KeywayFit) -> KeywayFit:
    try:
        with transaction.atomic():
            fit.save(force_insert=True)
    except IntegrityError:
        raise Conflict(f"The table says already that {fit.blank_keyway} enters {fit.core_keyway}.") from None
    return fit
