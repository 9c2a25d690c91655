"""Booking what a pinning job took out of the bins."""

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.language import Text, in_english
from keyctl.places.models import Site
from keyctl.stock.families import PinSize, family_id, family_of
from keyctl.stock.models import PinBin, PinMove
from keyctl.stock.services.kits import bins_of
from keyctl.stock.services.ledger import counted_bins, locked_bins, moved, save_moves

Reason = PinMove.Reason


@transaction.atomic
def book_use(
    *, actor: User, site: Site, format: engine.CoreFormat, pins: Mapping[PinSize, int], order: Text
) -> list[PinBin]:
    """Take the pins of a job out of the bins; returns the bins that are in doubt then.

    The core is built, whatever the records say, so nothing here refuses for want of pins:

    - A bin that is not there yet is opened with its whole kit, its count unknown.
    - Of a bin that nobody has counted, the use is kept and the count stays unknown; the first count makes
      up for it.
    - Where a counted bin would fall below nothing, it is set to nothing, a second movement says by how much
      the records were wrong, and the bin is in doubt until it is counted.

    The event names no size and no bin: more people read history than may know what a core is built of.
    """
    wanted = {pin: number for pin, number in pins.items() if number > 0}
    found = bins_of(site, format)
    if any(pin not in found for pin in wanted):
        raise ValueError("A pin is booked that the kit of the format does not have.")
    bins = locked_bins(actor, site, [found[pin].pk for pin in wanted])
    moves = [move for bin in bins for move in _use(actor, bin, wanted[bin.role, bin.size], order)]
    save_moves(bins, moves)
    _tell(actor, site, format, moves, order)
    return [bin for bin in bins if bin.is_doubtful]


def _use(actor: User, bin: PinBin, number: int, order: Text) -> list[PinMove]:
    before = bin.count
    moves = [moved(actor, bin, -number, Reason.USED, order=order)]
    if before is not None and number > before:
        note = _("The records held {before} and {number} were used. Count this bin.").format(
            before=before, number=number
        )
        moves.append(moved(actor, bin, number - before, Reason.DISCREPANCY, order=order, note=note))
        bin.is_doubtful = True
    return moves


def _tell(actor: User, site: Site, format: engine.CoreFormat, moves: list[PinMove], order: Text) -> None:
    used = -sum(move.change for move in moves if move.reason == Reason.USED)
    short = sum(move.reason == Reason.DISCREPANCY for move in moves)
    doubt = f"; {counted_bins(short)} held fewer than was used, to be counted" if short else ""
    record(
        actor=actor,
        verb="stock.used",
        sentence=f"booked {used} pins of {in_english(lambda: family_of(format).title)} "
        f"for {in_english(order)}{doubt}",
        site_id=site.pk,
        detail={"pins": used, "family": family_id(format), "short": short},
    )
