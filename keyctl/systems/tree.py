"""Walking a key system from the top master down, one branch at a time."""

from django.db.models import Count, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.places.access import visible_sites
from keyctl.systems.access import visible_systems
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import LINE, tops_of

KINDS = KeySymbol.Kind


def listed_systems(actor: User) -> QuerySet[KeySystem]:
    """The visible systems with how many keys of each kind they hold."""
    counted = visible_systems(actor).annotate(
        masters=Count("symbols", Q(symbols__kind=KINDS.MASTER), distinct=True),
        changes=Count("symbols", Q(symbols__kind=KINDS.CHANGE), distinct=True),
    )
    return counted.order_by("code")  # counting drops the model's own order


def branch(actor: User, symbol: KeySymbol) -> QuerySet[KeySymbol]:
    """The keys directly below one."""
    return with_counts(actor, symbol.children.order_by("ordinal"))


def roots(actor: User, system: KeySystem) -> QuerySet[KeySymbol]:
    """Where the tree begins; a control key stands outside it."""
    return with_counts(actor, tops_of(system))


def named_like(actor: User, system: KeySystem, text: str) -> QuerySet[KeySymbol]:
    """Keys whose symbol begins with the text, level by level."""
    found = system.symbols.filter(symbol__istartswith=text.strip()).select_related(LINE)
    return with_counts(actor, found).order_by("level", "parent__ordinal", "ordinal")


def with_counts(actor: User, symbols: QuerySet[KeySymbol]) -> QuerySet[KeySymbol]:
    """Each with how many keys stand directly below it, and how many visible cores are keyed to it.

    Cores lie above systems in the order of imports, so they are counted through the relation.
    """
    here = Q(keyings__core__site__in=visible_sites(actor))
    return symbols.annotate(
        below=Count("children", distinct=True), cores_keyed=Count("keyings", here, distinct=True)
    )
