"""Keys past their limit over the whole estate, whether or not a case is open for them."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.keys.models import KeyCopy
from keyctl.losses.access import readable_sites
from keyctl.losses.lost import suffices
from keyctl.losses.models import LossCase, LostCopy
from keyctl.losses.shares import Copies, Shares, copies_for_cores, copies_of
from keyctl.systems.models import KeySymbol


@dataclass
class PastLimit:
    """A key with lost copies, and the doors at which a rekey is due because of them."""

    symbol: KeySymbol
    copies: Copies
    doors: int = 0
    due: Counter[str] = field(default_factory=Counter)
    # The last case of a lost copy, unfinished ones first; and a lost copy that stands in none.
    case: LossCase | None = None
    without_case: KeyCopy | None = None

    @property
    def doors_due(self) -> int:
        return self.due.total()

    @property
    def suffices(self) -> bool:
        return suffices(self.symbol)


def keys_past_limit(actor: User) -> tuple[list[PastLimit], int]:
    """Those with a door that is due, worst first; and how many keys with lost copies are below all limits."""
    sites = readable_sites(actor)
    lost = KeyCopy.objects.filter(state=KeyCopy.State.LOST, site__in=sites)
    symbols = KeySymbol.objects.filter(pk__in=lost.values("symbol")).select_related("system")
    found = {symbol.pk: PastLimit(symbol, Copies()) for symbol in symbols}
    for pk, copies in copies_of(found).items():
        found[pk].copies = copies
    _count_doors_of_masters([each for each in found.values() if each.suffices])
    _count_doors_of_changes([each for each in found.values() if not each.suffices])
    _name_cases(found, lost)
    past = sorted(
        (each for each in found.values() if each.doors_due),
        key=lambda each: (not each.suffices, -each.doors_due, each.symbol.system.code, each.symbol.symbol),
    )
    return past, len(found) - len(past)


def _name_cases(found: dict[UUID, PastLimit], lost: QuerySet[KeyCopy]) -> None:
    rows = LostCopy.objects.filter(copy__in=lost, found_at__isnull=True).select_related("case__site")
    for row in sorted(rows, key=lambda row: (row.case.is_unfinished, row.case.number)):
        found[row.symbol_id].case = row.case
    told = LostCopy.objects.filter(copy=OuterRef("pk"), found_at__isnull=True)
    for copy in lost.filter(~Exists(told)).order_by("-serial"):
        found[copy.symbol_id].without_case = copy


def _count_doors_of_masters(keys: list[PastLimit]) -> None:
    """One copy suffices: every door is due, and the database counts them."""
    rows = (
        Turn.objects.filter(symbol__in=[key.symbol.pk for key in keys], core__place=Core.Place.HOUSING)
        .order_by()
        .values_list("symbol", "core__housing__door__door_class")
        .annotate(Count("pk"))
    )
    by_key = {key.symbol.pk: key for key in keys}
    for symbol, door_class, count in rows:
        by_key[symbol].due[door_class] = count
        by_key[symbol].doors += count


def _count_doors_of_changes(keys: list[PastLimit]) -> None:
    """Door by door: the share is over all change keys that turn it."""
    by_key, shares = {key.symbol.pk: key for key in keys}, Shares()
    turns = Turn.objects.filter(symbol__in=by_key, core__place=Core.Place.HOUSING)
    place = "core__housing__door__door_class"
    rows = list(turns.values_list("symbol", "core", "core__site", place, "withdraws"))
    of_core = copies_for_cores(_distinct(row[1] for row in rows))
    for symbol, core, site, door_class, withdraws in rows:
        by_key[symbol].doors += 1
        copies = of_core.get(core, Copies())
        if withdraws or shares.verdict(site, door_class, copies).is_due:
            by_key[symbol].due[door_class] += 1


def _distinct(cores: Iterable[UUID]) -> list[UUID]:
    return list(dict.fromkeys(cores))
