"""The rules of a site, and what a request's keys do, as the pure chain reads them."""

from collections import Counter
from collections.abc import Collection, Mapping
from uuid import UUID

from keyctl.approvals.chain import (
    STARTING_RULES,
    Effect,
    GivenKey,
    Needed,
    Rule,
    first_step,
    mark_of,
)
from keyctl.approvals.models import ApprovalRule, KeyRequest
from keyctl.approvals.proposals import Proposal
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol

__all__ = [
    "count_classes",
    "figures_of",
    "first_of",
    "grave_doors",
    "mark_of",
    "rules_mark",
    "rules_of",
    "starting_rows",
]


def rules_of(site: Site) -> tuple[Rule, ...]:
    """Its own, in their order; the starting set where it wrote none."""
    rows = ApprovalRule.objects.filter(site=site).order_by("ordinal").prefetch_related("people")
    return tuple(_rule(row) for row in rows) or STARTING_RULES


def starting_rows(site: Site) -> list[ApprovalRule]:
    """The starting set as rows of the site, not yet written."""
    return [_row(site, ordinal, rule) for ordinal, rule in enumerate(STARTING_RULES, start=1)]


def rules_mark(site: Site) -> str:
    """Changes when the rules do: whoever decides saw these."""
    return mark_of(rules_of(site))


def first_of(request: KeyRequest) -> Needed:
    return first_step(rules_of(request.building.site))


def figures_of(proposal: Proposal, grave: Mapping[UUID, str] | None = None) -> Effect:
    """What the rules look at. ``grave`` is what ``grave_doors`` gives, where that is read already."""
    grave = grave_doors() if grave is None else grave
    return Effect(
        keys=tuple(given(symbol) for symbol in proposal.symbols),
        doors=count_classes(proposal.doors, grave),
        extra=len(proposal.extra),
    )


def count_classes(doors: Collection[UUID], grave: Mapping[UUID, str]) -> Counter[str]:
    """How many doors of each class; those that are not grave are ordinary."""
    found = Counter(grave[door] for door in doors if door in grave)
    found[Door.DoorClass.ORDINARY] = len(doors) - found.total()
    return found


def grave_doors() -> dict[UUID, str]:
    """The class of every door out of the ordinary. Reading the few there are costs less than a join from
    a key over all that it turns."""
    doors = Door.objects.exclude(door_class=Door.DoorClass.ORDINARY).order_by()
    return dict(doors.values_list("pk", "door_class"))


def given(symbol: KeySymbol) -> GivenKey:
    return GivenKey(str(symbol), symbol.is_master, symbol.level, symbol.is_control)


def _rule(row: ApprovalRule) -> Rule:
    return Rule(
        when=row.when,
        who=row.who,
        level=row.level,
        door_class=row.door_class,
        extra=row.extra,
        people=frozenset(person.pk for person in row.people.all()),
        is_apart=row.is_apart,
        silent_hours=row.silent_hours,
    )


def _row(site: Site, ordinal: int, rule: Rule) -> ApprovalRule:
    return ApprovalRule(
        site=site,
        ordinal=ordinal,
        when=rule.when,
        who=rule.who,
        level=rule.level,
        door_class=rule.door_class,
        extra=rule.extra,
        is_apart=rule.is_apart,
        silent_hours=rule.silent_hours,
    )
