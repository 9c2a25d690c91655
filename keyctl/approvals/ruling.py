"""The rules of a site, and what a request's keys do, as the pure chain reads them."""

from collections.abc import Collection

from django.db.models import Count

from keyctl.approvals.chain import (
    STARTING_RULES,
    Effect,
    GivenKey,
    Needed,
    Rule,
    first_step,
    further_steps,
    mark_of,
)
from keyctl.approvals.models import ApprovalRule, KeyRequest
from keyctl.places.models import Door, DoorQuerySet, Site
from keyctl.systems.models import KeySymbol

__all__ = ["effect_of", "first_of", "further_of", "mark_of", "opened_by", "rules_mark", "rules_of"]


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


def further_of(
    request: KeyRequest, symbols: Collection[KeySymbol], rules: tuple[Rule, ...] | None = None
) -> list[Needed]:
    """The decisions after the first that these keys need; refuses a control key."""
    rules = rules_of(request.building.site) if rules is None else rules
    return further_steps(rules, effect_of(request, symbols))


def effect_of(request: KeyRequest, symbols: Collection[KeySymbol]) -> Effect:
    """Three queries, however many doors the keys open."""
    doors = opened_by(symbols)
    counts = dict(doors.order_by().values_list("door_class").annotate(Count("pk")))
    asked = doors.filter(pk__in=request.doors.values("pk")).count()
    return Effect(tuple(given(symbol) for symbol in symbols), counts, sum(counts.values()) - asked)


def opened_by(symbols: Collection[KeySymbol]) -> DoorQuerySet:
    turned = Door.objects.filter(
        housings__cores__turns__symbol__in=[symbol.pk for symbol in symbols],
        housings__cores__turns__operates=True,
    )
    return Door.objects.filter(pk__in=turned.values("pk"))


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
