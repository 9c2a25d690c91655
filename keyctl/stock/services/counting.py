"""Counting bins, filling them, taking out of them by hand, and their low marks."""

from collections.abc import Mapping
from uuid import UUID

from django.db import transaction
from django.db.models import Sum
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.models import Site
from keyctl.stock.models import PinBin, PinMove
from keyctl.stock.services.ledger import (
    BATCH,
    counted_bins,
    locked_bin,
    locked_bins,
    moved,
    refuse_moved,
    refuse_numbers,
    save_moves,
)

Reason = PinMove.Reason
ACTS = {
    Reason.BOUGHT: ("stock.received", "received"),
    Reason.RETURNED: ("stock.put_back", gettext_lazy("put back")),
    Reason.SCRAPPED: ("stock.scrapped", gettext_lazy("threw away")),
}


@transaction.atomic
def count_bins(
    *, actor: User, site: Site, numbers: Mapping[UUID, int], seen: Mapping[UUID, int] | None = None
) -> list[PinBin]:
    """Write down what was found in each bin; ``seen`` are the versions of the bins when counting began."""
    refuse_numbers(numbers, least=0)
    bins = locked_bins(actor, site, numbers)
    refuse_moved(bins, seen or {})
    save_moves(bins, [_count(actor, bin, numbers[bin.pk], before) for bin, before in _sums(bins)])
    _tell(actor, site, bins, "stock.counted", f"counted {_named(bins)}")
    return bins


def count_pins(*, actor: User, bin: PinBin, count: int, version: int | None = None) -> PinBin:
    seen = {} if version is None else {bin.pk: version}
    return count_bins(actor=actor, site=bin.site, numbers={bin.pk: count}, seen=seen)[0]


@transaction.atomic
def receive_bins(*, actor: User, site: Site, numbers: Mapping[UUID, int], note: str = "") -> list[PinBin]:
    """Pins that were bought. A bin nobody has counted yet stays unknown; the movement is kept."""
    refuse_numbers(numbers, least=1)
    bins = locked_bins(actor, site, numbers)
    save_moves(bins, [moved(actor, bin, numbers[bin.pk], Reason.BOUGHT, note=note) for bin in bins])
    _tell(actor, site, bins, "stock.received", f"received {sum(numbers.values())} pins for {_named(bins)}")
    return bins


def receive_pins(*, actor: User, bin: PinBin, number: int, note: str = "") -> PinBin:
    return receive_bins(actor=actor, site=bin.site, numbers={bin.pk: number}, note=note)[0]


@transaction.atomic
def move_pins(*, actor: User, bin: PinBin, reason: str, number: int, note: str = "") -> PinBin:
    """Pins bought, put back from a core that was taken apart, or thrown away."""
    if reason not in ACTS:
        raise Refused(_("Say whether the pins were bought, put back or thrown away."))
    refuse_numbers({bin.pk: number}, least=1)
    bin = locked_bin(actor, bin)
    if reason == Reason.SCRAPPED and bin.count is not None and number > bin.count:
        raise Refused(
            _("The records hold {count} there, not {number}. Count the bin first.").format(
                count=bin.count, number=number
            )
        )
    change = -number if reason == Reason.SCRAPPED else number
    save_moves([bin], [moved(actor, bin, change, Reason(reason), note=note)])
    verb, words = ACTS[Reason(reason)]
    _tell(actor, bin.site, [bin], verb, f"{in_english(words)} {number} pins: {_named([bin])}")
    return bin


@transaction.atomic
def mark_bins(*, actor: User, site: Site, numbers: Mapping[UUID, int]) -> list[PinBin]:
    """The number at which each bin counts as low."""
    refuse_numbers(numbers, least=0)
    bins = locked_bins(actor, site, numbers)
    for bin in bins:
        bin.low_at = numbers[bin.pk]
    PinBin.objects.bulk_update(bins, ["low_at"], batch_size=BATCH)
    _tell(actor, site, bins, "stock.marked", f"set the low mark of {_named(bins)}")
    return bins


def set_low_mark(*, actor: User, bin: PinBin, low_at: int) -> PinBin:
    return mark_bins(actor=actor, site=bin.site, numbers={bin.pk: low_at})[0]


def _sums(bins: list[PinBin]) -> list[tuple[PinBin, int]]:
    """Each bin with the sum of its movements: what it holds, if it was counted before."""
    moves = PinMove.objects.filter(bin__in=bins).order_by()
    sums = dict(moves.values_list("bin").annotate(total=Sum("change")))
    return [(bin, sums.get(bin.pk, 0)) for bin in bins]


def _count(actor: User, bin: PinBin, found: int, before: int) -> PinMove:
    bin.count, bin.is_doubtful = before, False
    return moved(actor, bin, found - before, Reason.COUNTED, note=f"{found} found")


def _named(bins: list[PinBin]) -> str:
    return in_english(bins[0]).lower() if len(bins) == 1 else counted_bins(len(bins))


def _tell(actor: User, site: Site, bins: list[PinBin], verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=f"{sentence} at {site}",
        site_id=site.pk,
        subjects=bins,
        detail={"bins": len(bins)},
    )
