"""The register of control blanks: counted like keys, because any working key on one takes cores out."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import by_whom
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held, save_next
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlBlank, ControlBlankMove, ControlKeyCase
from keyctl.systems.models import KeySymbol

MOST_AT_ONCE = 500
Kind = ControlBlankMove.Kind


@transaction.atomic
def register_blanks(*, actor: User, site: Site, keyway: str) -> ControlBlank:
    require_role(actor, site, *WORKERS)
    keyway = keyway.strip()
    Site.objects.select_for_update().get(pk=site.pk)
    if not site.key_systems.filter(keyway=keyway).exists():
        raise Refused(
            _("No key system at {site} has keyway {keyway}. Look at the keyway again.").format(
                site=site, keyway=keyway
            )
        )
    if ControlBlank.objects.filter(site=site, keyway=keyway).exists():
        raise Refused(
            _("{site} has a register for keyway {keyway} already. Receive the blanks there.").format(
                site=site, keyway=keyway
            )
        )
    blank = ControlBlank.objects.create(site=site, keyway=keyway)
    _tell(actor, blank, "registered", f"opened the register of control blanks, keyway {keyway}, at {site}")
    return blank


@transaction.atomic
def receive_blanks(
    *, actor: User, blank: ControlBlank, version: int, number: int, note: str = ""
) -> ControlBlank:
    blank = locked_blank(actor, blank, version)
    _refuse_number(number)
    _move(actor, blank, Kind.RECEIVED, number, note=note)
    _tell(actor, blank, "received", f"received {_blanks(number, blank)}; {blank.count} there now")
    return blank


@transaction.atomic
def scrap_blanks(*, actor: User, blank: ControlBlank, version: int, number: int, note: str) -> ControlBlank:
    blank = locked_blank(actor, blank, version)
    _refuse_number(number)
    if number > blank.count:
        raise Refused(
            _("{count} are in the register, so {number} cannot be scrapped. Count them first.").format(
                count=blank.count, number=number
            )
        )
    if not note.strip():
        raise Refused(_("Say why they are scrapped, and how they were made useless."))
    _move(actor, blank, Kind.SCRAPPED, -number, note=note)
    _tell(actor, blank, "scrapped", f"scrapped {_blanks(number, blank)}; {blank.count} there now")
    return blank


@transaction.atomic
def count_blanks(
    *, actor: User, blank: ControlBlank, version: int, number: int, note: str = ""
) -> ControlBlank:
    """What lies there goes into the register; a difference is told, with what was said about it."""
    blank = locked_blank(actor, blank, version)
    if number < 0:
        raise Refused(_("Fewer than none cannot lie there. Count again."))
    change = number - blank.count
    if change and not note.strip():
        raise Refused(
            _(
                "The register says {count}, you counted {number}. Say what is known of the difference; treat "
                "missing control blanks as a loss of security and tell the security officer."
            ).format(count=blank.count, number=number)
        )
    _move(actor, blank, Kind.COUNTED, change, note=note)
    outcome = f"{change:+d} against the register" if change else "as the register says"
    _tell(actor, blank, "counted", f"counted {_blanks(number, blank)}, {outcome}")
    return blank


def take_blank(actor: User, blank: ControlBlank, case: ControlKeyCase, symbol: KeySymbol) -> None:
    """One blank of a locked register is cut for a case; the case's event tells of it."""
    _move(actor, blank, Kind.CUT, -1, case=case, symbol=symbol)


def locked_blank(actor: User, blank: ControlBlank, version: int | None = None) -> ControlBlank:
    blank = held(ControlBlank.objects.select_related("site"), blank.pk)
    require_role(actor, blank.site, *WORKERS)
    if version is not None and blank.version != version:
        raise Conflict(
            _("The register has changed since you looked at it{by_whom}. Look again, then write.").format(
                by_whom=by_whom(blank)
            )
        )
    return blank


def _move(actor: User, blank: ControlBlank, kind: Kind, change: int, note: str = "", **facts: Any) -> None:
    blank.count += change
    save_next(blank, "count")
    ControlBlankMove.objects.create(
        blank=blank, kind=kind, change=change, left=blank.count, by=actor, note=note.strip(), **facts
    )


def _refuse_number(number: int) -> None:
    if not 1 <= number <= MOST_AT_ONCE:
        raise Refused(_("Write a number between 1 and {most_at_once}.").format(most_at_once=MOST_AT_ONCE))


def _blanks(number: int, blank: ControlBlank) -> str:
    return f"{number} control blank{'' if number == 1 else 's'}, keyway {blank.keyway}"


def _tell(actor: User, blank: ControlBlank, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"control_blanks.{verb}",
        sentence=sentence,
        site_id=blank.site_id,
        subjects=[blank],
        detail={"count": blank.count},
    )
