"""Walking a key system from the top keys down, a page of a branch at a time, or searching and sifting it.

A page is cut first and counted then: what stands below a key and what is keyed to it is asked for the keys of
one page, however many the system has.
"""

from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.paginator import Page, Paginator
from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.places.access import visible_sites
from keyctl.systems.access import visible_systems
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import LINE, tops_of

KINDS = KeySymbol.Kind
KEYS_ON_A_PAGE = 100

SHOWN = {
    "": gettext_lazy("All keys"),
    "unused": gettext_lazy("Without a core or a copy"),
    "cores": gettext_lazy("With cores"),
    "copies": gettext_lazy("With copies"),
}


@dataclass(frozen=True)
class Sieve:
    """What somebody looks for: the beginning of a symbol, what is done with the key, its level."""

    text: str = ""
    show: str = ""
    level: int | None = None

    @property
    def is_set(self) -> bool:
        return bool(self.text or self.show or self.level is not None)


def listed_systems(actor: User) -> QuerySet[KeySystem]:
    """The visible systems with how many keys of each kind they hold."""
    counted = visible_systems(actor).annotate(
        masters=Count("symbols", Q(symbols__kind=KINDS.MASTER), distinct=True),
        changes=Count("symbols", Q(symbols__kind=KINDS.CHANGE), distinct=True),
    )
    return counted.order_by("code")  # counting drops the model's own order


def branch_page(actor: User, symbol: KeySymbol, number: str | int | None) -> Page[KeySymbol]:
    """A page of the keys directly below one."""
    return _page(actor, symbol.children.order_by("ordinal", "kind"), number)


def tops_page(actor: User, system: KeySystem, number: str | int | None) -> Page[KeySymbol]:
    """Where the tree begins; a control key stands outside it."""
    return _page(actor, tops_of(system), number)


def sifted_page(actor: User, system: KeySystem, sieve: Sieve, number: str | int | None) -> Page[KeySymbol]:
    """The keys that pass the sieve, level by level."""
    found = system.symbols.filter(symbol__istartswith=sieve.text)
    if sieve.level is not None:
        found = found.filter(level=sieve.level)
    found = _done_with(found, sieve.show)
    return _page(actor, found.order_by("level", *_way_down(system.levels), "symbol"), number)


def _way_down(levels: int) -> list[str]:
    """The ordinals from the top to a key, by which the keys of one level stand as in the tree."""
    return ["parent__" * steps + "ordinal" for steps in range(max(levels - 2, 0), -1, -1)]


def _done_with(symbols: QuerySet[KeySymbol], show: str) -> QuerySet[KeySymbol]:
    """Cores and copies lie above systems in the order of imports, so they are asked through the relation."""
    keyed = KeySymbol.objects.filter(keyings__isnull=False).values("pk")
    copied = KeySymbol.objects.filter(copies__isnull=False).values("pk")
    if show == "unused":
        return symbols.exclude(pk__in=keyed).exclude(pk__in=copied)
    if show == "cores":
        return symbols.filter(pk__in=keyed)
    return symbols.filter(pk__in=copied) if show == "copies" else symbols


def _page(actor: User, symbols: QuerySet[KeySymbol], number: str | int | None) -> Page[KeySymbol]:
    page = Paginator(symbols.defer("bitting"), KEYS_ON_A_PAGE).get_page(number)
    wanted = [symbol.pk for symbol in page.object_list]
    rows = with_counts(actor, KeySymbol.objects.filter(pk__in=wanted).select_related(LINE))
    counted = {symbol.pk: symbol for symbol in rows}
    page.object_list = [counted[pk] for pk in wanted]
    return page


def with_counts(actor: User, symbols: QuerySet[KeySymbol]) -> QuerySet[KeySymbol]:
    """Each with how many keys stand directly below it, and how many visible cores are keyed to it.

    Counted key by key: joined, the keys below and the cores would multiply before they are counted.
    """
    # Keyings lie above systems in the order of imports, so they are asked through the relation.
    keyings = apps.get_model("cores", "Keying")._default_manager.filter(core__site__in=visible_sites(actor))
    return symbols.annotate(
        below=_count_by(KeySymbol.objects.all(), "parent"), cores_keyed=_count_by(keyings, "symbol")
    )


def _count_by(rows: QuerySet[Any], key: str) -> Coalesce:
    """How many of the rows name the key in hand."""
    named = rows.filter(**{key: OuterRef("pk")}).order_by().values(key)
    return Coalesce(Subquery(named.annotate(number=Count("pk")).values("number")), 0)
