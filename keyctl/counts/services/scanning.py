"""Keys in the hand: each serial once, with what the register said at that moment, and no word about it."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import COUNTERS
from keyctl.counts.models import Count, CountScan
from keyctl.counts.selectors.keys import copy_by_mark, is_holder
from keyctl.counts.services.numbering import locked_count
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.tags import clean_tag
from keyctl.places.access import require_role

MOST_AT_ONCE = 200
LONGEST_SERIAL = 40
# Scans of keys that do not belong, or that were taken back.
MOST_BEYOND = 2000
Way, State = CountScan.Way, Count.State


@dataclass(frozen=True)
class Scanned:
    """What one reading brought: serials that are new to the count, and those it had already."""

    added: list[str]
    repeated: list[str]


@transaction.atomic
def scan_keys(*, actor: User, count: Count, text: str) -> Scanned:
    """One serial, or several by line or comma, as a scanner types them. What belongs here is not asked."""
    count = locked_count(count, State.RUNNING)
    require_role(actor, count.site, *COUNTERS)
    marks = serials_in(text)
    _refuse_hand(actor, count)
    _refuse_flood(count, len(marks))
    known = set(_standing(count, Way.SIGHTED).values_list("serial", flat=True))
    outcome = Scanned([], [])
    for mark in marks:
        copy = copy_by_mark(count.site, mark)
        serial = copy.serial if copy else (clean_tag(mark) or mark.upper())
        if serial in known:
            outcome.repeated.append(serial)
            continue
        known.add(serial)
        _write(actor, count, serial, copy, Way.SIGHTED)
        outcome.added.append(serial)
    return outcome


@transaction.atomic
def undo_scan(*, actor: User, count: Count) -> CountScan:
    """Take back the last scan; it stays written that it was made."""
    count = locked_count(count, State.RUNNING)
    require_role(actor, count.site, *COUNTERS)
    _refuse_hand(actor, count)
    last = _standing(count, Way.SIGHTED).first()
    if last is None:
        raise Refused(_("Nothing is scanned yet, so there is nothing to take back."))
    last.undone_at = timezone.now()
    last.save(update_fields=["undone_at"])
    return last


@transaction.atomic
def declare_keys(*, actor: User, count: Count, copies: Sequence[KeyCopy]) -> int:
    """A holder says which of the keys they still have. It is kept as their word, not as a key seen."""
    count = locked_count(count, State.DUE, State.RUNNING)
    holder = count.holder
    if holder is None or not is_holder(actor, holder):
        named = holder or _("the holder who is counted")
        raise Refused(_("Only {value} can say so of their own keys.").format(value=named))
    said = set(_standing(count, Way.DECLARED).values_list("serial", flat=True))
    mine = [copy for copy in copies if copy.holder_id == holder.pk and copy.serial not in said]
    for copy in mine:
        _write(actor, count, copy.serial, copy, Way.DECLARED)
    record(
        actor=actor,
        verb="count.declared",
        sentence=f"declared to have {len(mine)} of the keys in count {count.number}",
        site_id=count.site_id,
        subjects=[count, holder],
        detail={"keys": len(mine)},
    )
    return len(mine)


def serials_in(text: str) -> list[str]:
    """
    >>> serials_in(" bcdf-2345-ghjk\\nBCDF 2345 GHJM,,")
    ['bcdf-2345-ghjk', 'BCDF 2345 GHJM']
    """
    marks = [mark.strip() for mark in re.split(r"[\n\r,;\t]+", text) if mark.strip()]
    if not marks:
        raise Refused(_("Nothing was read. Scan the key again, or type its serial."))
    if len(marks) > MOST_AT_ONCE:
        raise Refused(_("Read at most {most_at_once} serials at a time.").format(most_at_once=MOST_AT_ONCE))
    if any(len(mark) > LONGEST_SERIAL for mark in marks):
        raise Refused(
            _("A serial has at most {longest_serial} signs. Was something else scanned?").format(
                longest_serial=LONGEST_SERIAL
            )
        )
    return marks


def _refuse_hand(actor: User, count: Count) -> None:
    """Others may help the counter; not who watches, nor whose own keys are counted with nobody watching."""
    _refuse_after_the_witness(count)
    if actor.pk == count.witness_id:
        raise Refused(_("You watch this count. Whoever counts scans the keys, or somebody who helps them."))
    if count.witness is None and _keeps_some(actor, count):
        raise Refused(
            _(
                "Some of these keys are in your own keeping and nobody watches this count. Somebody else "
                "scans."
            )
        )


def _keeps_some(actor: User, count: Count) -> bool:
    if is_holder(actor, count.holder):
        return True
    cabinets = list(Cabinet.objects.filter(site=count.site_id, custodian=actor).values_list("pk", flat=True))
    return bool(cabinets) and (
        count.cabinet_id in cabinets or count.expected.filter(cabinet__in=cabinets).exists()
    )


def _refuse_flood(count: Count, more: int) -> None:
    """Room for every key that is sought and for a great many others; no room for a stuck scanner."""
    scans = CountScan.objects.filter(count=count).count() + more
    if scans > MOST_BEYOND and scans > MOST_BEYOND + 2 * count.expected.count():
        raise Refused(
            _("This count has far more scans than keys. Look at the scanner; close the count, or give it up.")
        )


def _refuse_after_the_witness(count: Count) -> None:
    """What a witness confirmed is what was scanned until then."""
    if count.witnessed_at:
        raise Refused(
            _("{witness} has confirmed this count already. Close it, and count again if need be.").format(
                witness=count.witness
            )
        )


def _standing(count: Count, way: CountScan.Way) -> models.QuerySet[CountScan]:
    return CountScan.objects.filter(count=count, way=way, undone_at__isnull=True)


def _write(actor: User, count: Count, serial: str, copy: KeyCopy | None, way: CountScan.Way) -> None:
    CountScan.objects.create(
        count=count,
        serial=serial,
        copy=copy,
        way=way,
        by=actor,
        register_state=copy.state if copy else "",
        register_cabinet=copy.cabinet if copy else None,
        register_holder=copy.holder if copy else None,
    )
