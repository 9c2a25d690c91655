"""The clerk's tray: keys laid down and taken off. It is no record, so history hears of the act alone."""

from datetime import datetime

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.desk.models import Tray, TrayLine
from keyctl.desk.scanning import Heard
from keyctl.keys.access import DESK
from keyctl.keys.models import Cabinet, Handover, KeyCopy
from keyctl.keys.services import MOST_AT_ONCE
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.places.access import require_role
from keyctl.places.models import Site


def held_tray(actor: User, site: Site, way: str) -> Tray:
    """The clerk's tray, made where there is none, until the end of the transaction."""
    require_role(actor, site, *DESK)
    if way not in Handover.Way.values:
        raise Refused(_("Keys are handed out, taken back or transferred. Choose one of these."))
    Tray.objects.get_or_create(site=site, clerk=actor, way=way)
    Tray.objects.select_for_update().get(site=site, clerk=actor, way=way)
    return Tray.objects.select_related("site", "holder__person", "holder__site", "person", "cabinet").get(
        site=site, clerk=actor, way=way
    )


def lay(tray: Tray, copy: KeyCopy, request: KeyRequest | None = None) -> TrayLine:
    """One more key, at the end."""
    last = tray.lines.aggregate(last=Max("ordinal"))["last"] or 0
    if tray.lines.count() >= MOST_AT_ONCE:
        raise Refused(
            _("At most {most_at_once} keys go in one act. Finish these first.").format(
                most_at_once=MOST_AT_ONCE
            )
        )
    line = TrayLine.objects.create(tray=tray, ordinal=last + 1, copy=copy, request=request)
    save_next(tray)
    return line


@transaction.atomic
def undo_last(*, actor: User, site: Site, way: str) -> Heard:
    """Take the key off that was laid down last; without keys, forget who it is for."""
    tray = held_tray(actor, site, way)
    last = tray.lines.select_related("copy").order_by("-ordinal").first()
    if last:
        last.delete()
        save_next(tray)
        return Heard(_("{copy} is off the list again.").format(copy=last.copy))
    if not tray.taker:
        raise Refused(_("There is nothing to take back: the list is empty."))
    name = str(tray.taker)
    tray.holder = tray.person = None
    save_next(tray, "holder", "person")
    return Heard(_("The act is not for {name} any more.").format(name=name))


@transaction.atomic
def leave_out(*, actor: User, line: TrayLine) -> Heard:
    tray = held_tray(actor, line.tray.site, line.tray.way)
    tray.lines.filter(pk=line.pk).delete()
    save_next(tray)
    return Heard(_("{copy} is off the list again.").format(copy=line.copy))


@transaction.atomic
def clear_tray(*, actor: User, site: Site, way: str) -> Heard:
    tray = held_tray(actor, site, way)
    wipe(tray)
    return Heard(_("The list is empty. The next one, please."))


def wipe(tray: Tray) -> None:
    """Everything but the cabinet: keys come back into the same one all day."""
    tray.lines.all().delete()
    tray.holder = tray.person = tray.deposit = tray.due_at = None
    tray.due, tray.brought_by = Tray.Due.USUAL, ""
    save_next(tray, "holder", "person", "deposit", "due", "due_at", "brought_by")


@transaction.atomic
def note_condition(*, actor: User, line: TrayLine, condition: str) -> TrayLine:
    """What a key is like that comes back. No part of what is signed, so the list counts as unchanged."""
    require_role(actor, line.tray.site, *DESK)
    line.condition = condition
    line.save(update_fields=["condition"])
    return line


@transaction.atomic
def agree(
    *,
    actor: User,
    site: Site,
    way: str,
    due: str = Tray.Due.USUAL,
    due_at: datetime | None = None,
    deposit: int | None = None,
    cabinet: Cabinet | None = None,
    brought_by: str = "",
) -> Tray:
    """Keep what was chosen beside the list, so that a reload loses none of it."""
    tray = held_tray(actor, site, way)
    if cabinet and cabinet.site_id != site.pk:
        raise Refused(
            _("{cabinet} is not a cabinet of {site}. Choose one of {site}.").format(
                cabinet=cabinet, site=site
            )
        )
    if due == Tray.Due.AT and due_at is None:
        due = Tray.Due.USUAL
    tray.due, tray.due_at, tray.deposit = due, due_at, deposit
    tray.cabinet, tray.brought_by = cabinet or tray.cabinet, brought_by.strip()[:120]
    # No new version: what is signed for is the list, and these are sent with the signature again.
    tray.save(update_fields=["due", "due_at", "deposit", "cabinet", "brought_by"])
    return tray
