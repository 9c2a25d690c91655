"""Writing movements: the bins are locked in one fixed order, and a count changes only with its movement."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import Text, in_sentence
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.stock.models import PinBin, PinMove

MOST_PINS = 100_000
BATCH = 500


def locked_bins(actor: User, site: Site, pks: Iterable[UUID]) -> list[PinBin]:
    """The site's bins among those named, held until the transaction ends, in the order of their keys."""
    require_role(actor, site, Role.LOCKSMITH)
    wanted = set(pks)
    bins = list(PinBin.objects.select_for_update().filter(site=site, pk__in=wanted).order_by("pk"))
    if len(bins) < len(wanted):
        raise Refused(_("A bin of the list is not at {site}. Open the page anew.").format(site=site))
    return bins


def locked_bin(actor: User, bin: PinBin) -> PinBin:
    return locked_bins(actor, bin.site, [bin.pk])[0]


def moved(
    actor: User,
    bin: PinBin,
    change: int,
    reason: PinMove.Reason,
    *,
    order: Text = "",
    note: str = "",
) -> PinMove:
    """Put a change into a locked bin; `save_moves` stores both. An unknown count stays unknown."""
    if bin.count is not None:
        bin.count += change
    bin.version += 1
    return PinMove(bin=bin, change=change, reason=reason, order=str(order), note=note, by=actor)


def save_moves(bins: Iterable[PinBin], moves: Iterable[PinMove]) -> None:
    PinBin.objects.bulk_update(bins, ["count", "is_doubtful", "version"], batch_size=BATCH)
    PinMove.objects.bulk_create(moves, batch_size=BATCH)


def refuse_numbers(numbers: Mapping[UUID, int], *, least: int) -> None:
    if not numbers:
        raise Refused(_("No number was typed. Type at least one; bins left empty stay as they are."))
    if any(not least <= number <= MOST_PINS for number in numbers.values()):
        raise Refused(_("Give numbers from {least} to {most_pins}.").format(least=least, most_pins=MOST_PINS))


def refuse_moved(bins: Iterable[PinBin], seen: Mapping[UUID, int]) -> None:
    """A count is worth something only if nothing went in or out between counting and writing it down."""
    stale = [bin for bin in bins if seen.get(bin.pk, bin.version) != bin.version]
    if stale:
        raise Conflict(
            _("Pins were moved while you counted. Nothing was written down; count these bins again."),
            reasons=[_told(bin) for bin in stale],
        )


def _told(bin: PinBin) -> str:
    last = bin.moves.select_related("by").first()
    if last is None:
        return f"{bin}."
    at = timezone.localtime(last.at)
    return f"{bin}: {last.by}, {in_sentence(last.get_reason_display())} {last.change:+d} at {at:%H:%M}."


def counted_bins(number: int) -> str:
    return "1 bin" if number == 1 else f"{number} bins"
