"""The law of keys: cut = with holders + in cabinets + lost + destroyed; the register agrees with the copies.

The database refuses a copy in two states, and two open lines for one copy. What spans two tables, or was
written past the program, is found here: each figure is counted by a question of its own and from what it
rests on, so that a planner meets no join that multiplies rows.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import reduce
from operator import or_
from uuid import UUID

from django.db.models import Count, F, FilteredRelation, Max, Q, QuerySet
from django.utils.translation import gettext_noop

from keyctl.keys.models import Custody, DeskSettings, Handover, KeyCopy
from keyctl.lib.retold import kept_text
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol

# Of one fault so many copies are named; the rest is counted.
MOST_NAMED = 25
State = KeyCopy.State
AGREE = kept_text(gettext_noop("{copies} copies and the register agree."))
DISAGREE = kept_text(gettext_noop("The register does not agree with the copies ({where}). First: {first}"))
AT_SITE = kept_text(gettext_noop("At {site}: {words}"))
WRONG_COUNT = kept_text(
    gettext_noop(
        "Key {name}: {cut} copies were cut, but {held} are with holders, {in_cabinet} in cabinets, "
        "{lost} lost and {destroyed} destroyed."
    )
)
ASTRAY = kept_text(
    gettext_noop("Copy {copy} has an open line in the register, though nobody holds it by that line.")
)
NO_LINE = kept_text(gettext_noop("Copy {copy} has no open line in the register, though somebody holds it."))
ANOTHER_HOLDER = kept_text(gettext_noop("Copy {copy} is with another holder than its line says."))
ANOTHER_ACT = kept_text(
    gettext_noop("Copy {copy} has a line that names another holder than the act that was signed.")
)
WRONG_STATE = kept_text(gettext_noop("Copy {copy} is in a state that does not fit where it is."))
ANOTHER_SITE = kept_text(gettext_noop("Copy {copy} is with a holder, or in a cabinet, of another site."))
MORE_COPIES = kept_text(gettext_noop("Copies more with the same fault: {number}."))
MISSING_ACTS = kept_text(
    gettext_noop("The desk numbered {last} acts, but {found} are kept: some are missing or added.")
)


@dataclass(frozen=True)
class LawCount:
    """Copies of one key. ``held`` counts the register's open lines, not the copies' own word for it."""

    cut: int = 0
    held: int = 0
    in_cabinet: int = 0
    lost: int = 0
    destroyed: int = 0

    @property
    def is_kept(self) -> bool:
        return self.cut == self.held + self.in_cabinet + self.lost + self.destroyed


@dataclass(frozen=True)
class Breach:
    """What is wrong at a site, in words that pages tell again; the copy where it is about one."""

    site: Site
    words: str
    copy: KeyCopy | None = None


def law_counts(copies: QuerySet[KeyCopy]) -> Mapping[UUID, LawCount]:
    """Per symbol, the counts that must add up."""
    copies = copies.order_by()
    lines = Custody.objects.filter(copy__in=copies.values("pk"), ended_at__isnull=True).order_by()
    columns = {
        "cut": copies.values_list("symbol"),
        "held": lines.values_list("copy__symbol"),
        "in_cabinet": copies.filter(cabinet__isnull=False).values_list("symbol"),
        "lost": copies.filter(state=State.LOST).values_list("symbol"),
        "destroyed": copies.filter(state=State.DESTROYED).values_list("symbol"),
    }
    found: dict[UUID, LawCount] = {}
    for column, rows in columns.items():
        for symbol, number in rows.annotate(Count("pk")):
            found[symbol] = replace(found.get(symbol, LawCount()), **{column: number})
    return found


def law_count(symbol: KeySymbol) -> LawCount:
    return law_counts(KeyCopy.objects.filter(symbol=symbol)).get(symbol.pk, LawCount())


def law_breaches(sites: QuerySet[Site]) -> Mapping[UUID, LawCount]:
    """The symbols whose copies do not add up; empty as long as the register is sound."""
    counted = law_counts(KeyCopy.objects.at_sites(sites))
    return {symbol: count for symbol, count in counted.items() if not count.is_kept}


def breaches(sites: QuerySet[Site]) -> list[Breach]:
    """All that is wrong, site by site: counts, copies against lines, and acts that are missing.

    A sound register is told from another by a few questions over all sites; only where something is wrong
    the site is asked what.
    """
    wrong = _unsound(sites)
    return [breach for site in sites if site.pk in wrong for breach in _at(site)]


def broken_law() -> Iterator[str]:
    """For the look at everything: each site is asked everything. Sites are named: one may not be the
    reader's own."""
    for site in Site.objects.all():
        yield from (AT_SITE.format(site=site, words=breach.words) for breach in _at(site))


def check_law(_now: datetime) -> str:
    """The nightly routine. No key is named beside a serial: the page of the law does that."""
    found = breaches(Site.objects.all())
    copies = KeyCopy.objects.count()
    if not found:
        return AGREE.format(copies=copies)
    by_site: dict[str, int] = {}
    for breach in found:
        by_site[str(breach.site)] = by_site.get(str(breach.site), 0) + 1
    where = ", ".join(f"{site}: {number}" for site, number in by_site.items())
    return DISAGREE.format(where=where, first=found[0].words)


def _at(site: Site) -> Iterator[Breach]:
    yield from _counts(site)
    for text, copies in _faulty_copies(site):
        yield from _named(site, text, copies)
    yield from _missing_acts(site)


def _counts(site: Site) -> Iterator[Breach]:
    wrong = law_breaches(Site.objects.filter(pk=site.pk))
    names = KeySymbol.objects.select_related("system").in_bulk(list(wrong)) if wrong else {}
    for symbol, count in wrong.items():
        name = f"{names[symbol]} ({names[symbol].system.code})"
        yield Breach(site, WRONG_COUNT.format(name=name, **asdict(count)))


def _faulty_copies(site: Site) -> Iterator[tuple[str, QuerySet[KeyCopy]]]:
    """Each fault with the copies that have it."""
    copies = KeyCopy.objects.filter(site=site)
    yield (
        ASTRAY,
        copies.filter(pk__in=_astray(Custody.objects.filter(copy__site=site)).values("copy")),
    )
    for text, fault in _faults().items():
        yield text, copies.filter(fault)


def _faults() -> dict[str, Q]:
    """What is wrong with a copy, seen from the copy."""
    out = Q(custody__isnull=False)
    elsewhere = Q(holder__isnull=False) & ~Q(holder__site=F("site"))
    elsewhere |= Q(cabinet__isnull=False) & ~Q(cabinet__site=F("site"))
    no_line = Q(custody__isnull=True) | Q(custody__ended_at__isnull=False) | ~Q(custody__copy_id=F("pk"))
    return {
        NO_LINE: Q(state=State.HELD) & no_line,
        ANOTHER_HOLDER: out & ~Q(holder=F("custody__holder")),
        ANOTHER_ACT: (out & ~Q(custody__holder=F("custody__out_act__holder"))),
        WRONG_STATE: ~_sound_places(),
        ANOTHER_SITE: elsewhere,
    }


def _astray(lines: QuerySet[Custody]) -> QuerySet[Custody]:
    astray = Q(copy__custody__isnull=True) | ~Q(copy__custody_id=F("pk"))
    return lines.filter(astray, ended_at__isnull=True).order_by()


def _sound_places() -> Q:
    nowhere = Q(holder__isnull=True, cabinet__isnull=True)
    return (
        Q(state=State.HELD, holder__isnull=False, cabinet__isnull=True)
        | Q(state=State.IN_CABINET, holder__isnull=True, cabinet__isnull=False)
        | (Q(state__in=[State.LOST, State.DESTROYED]) & nowhere)
    )


def _named(site: Site, text: str, copies: QuerySet[KeyCopy]) -> Iterator[Breach]:
    first = list(copies.select_related("symbol__system")[: MOST_NAMED + 1])
    yield from (Breach(site, text.format(copy=copy), copy) for copy in first[:MOST_NAMED])
    if len(first) > MOST_NAMED:
        yield Breach(site, MORE_COPIES.format(number=copies.count() - MOST_NAMED))


def _missing_acts(site: Site) -> Iterator[Breach]:
    """A site numbers its acts without a gap: a number that nobody has is an act that was taken out."""
    last = DeskSettings.objects.filter(site=site).values_list("last_number", flat=True).first() or 0
    found = Handover.objects.filter(site=site).aggregate(kept=Count("pk"), highest=Max("number"))
    if found["kept"] != last or (found["highest"] or 0) != last:
        yield Breach(site, MISSING_ACTS.format(last=last, found=found["kept"]))


def _unsound(sites: QuerySet[Site]) -> set[UUID]:
    """The sites where anything is wrong. The questions are the same however many sites there are."""
    copies = KeyCopy.objects.at_sites(sites).order_by()
    lines = Custody.objects.filter(copy__site__in=sites)
    wrong = copies.filter(reduce(or_, _faults().values())).values_list("site", flat=True).distinct()
    astray = _astray(lines).values_list("copy__site", flat=True).distinct()
    return {*wrong, *astray, *_sites_of_wrong_counts(copies), *_sites_of_missing_acts(sites)}


def _sites_of_wrong_counts(copies: QuerySet[KeyCopy]) -> set[UUID]:
    """The sums as the database makes them. Two open lines of one copy would count it twice on both sides:
    one of the two is astray."""
    line = FilteredRelation("custodies", condition=Q(custodies__ended_at__isnull=True))
    elsewhere = Count("cabinet") + Count("pk", filter=Q(state__in=[State.LOST, State.DESTROYED]))
    sums = copies.annotate(line=line).values("site", "symbol")
    counted = sums.annotate(missing=Count("pk") - Count("line") - elsewhere)
    return set(counted.exclude(missing=0).values_list("site", flat=True))


def _sites_of_missing_acts(sites: QuerySet[Site]) -> set[UUID]:
    last = dict(DeskSettings.objects.filter(site__in=sites).values_list("site", "last_number"))
    acts = Handover.objects.filter(site__in=sites).order_by().values("site")
    kept = {
        row["site"]: {row["kept"], row["highest"]}
        for row in acts.annotate(kept=Count("pk"), highest=Max("number"))
    }
    return {site for site in last.keys() | kept.keys() if kept.get(site, {0}) != {last.get(site, 0)}}
