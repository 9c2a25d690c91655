"""Decisions that wait: one's own, and others' at one's sites, longest waiting first."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, QuerySet

from keyctl.accounts.models import User
from keyctl.approvals.access import READERS
from keyctl.approvals.deciders import current_steps, decidable_steps, managed_buildings
from keyctl.approvals.models import ApprovalRule, Step, Substitute
from keyctl.approvals.progress import named
from keyctl.approvals.roll import deciders, roll_of
from keyctl.approvals.ruling import starting_rows
from keyctl.places.models import Building, BuildingManager, Site
from keyctl.places.roles import Role

RULE_READERS = (Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


@dataclass(frozen=True)
class Line:
    step: Step
    waits_for: str


@dataclass(frozen=True)
class SiteRules:
    site: Site
    rules: list[ApprovalRule]
    # False: these are the starting set, which holds where a site wrote none.
    is_own: bool
    may_change: bool
    # Buildings for which nobody decides in the first place.
    unmanaged: list[Building]


def own_decisions(actor: User) -> QuerySet[Step]:
    return _in_order(decidable_steps(actor))


def others_decisions(actor: User) -> QuerySet[Step]:
    """Of requests that the actor may read about as staff, not as somebody who asked."""
    sites = Site.objects.for_roles(actor, *READERS)
    read = current_steps().filter(request__building__site__in=sites)
    read |= current_steps().filter(request__building__in=managed_buildings(actor))
    return _in_order(read.exclude(pk__in=decidable_steps(actor).values("pk")))


def lines(steps: Sequence[Step]) -> list[Line]:
    if not steps:
        return []
    roll = roll_of(steps)
    return [Line(step, named([str(each) for each in deciders(step, roll)])) for step in steps]


def site_rules(actor: User) -> list[SiteRules]:
    sites = Site.objects.for_roles(actor, *RULE_READERS)
    changeable = set(Site.objects.for_roles(actor, Role.ADMINISTRATOR).values_list("pk", flat=True))
    found = []
    for site in sites:
        rows = list(site.approval_rules.prefetch_related("people"))
        unmanaged = list(_unmanaged(site))
        shown = rows or starting_rows(site)
        found.append(SiteRules(site, shown, bool(rows), site.pk in changeable, unmanaged))
    return found


def substitutes_for(actor: User) -> QuerySet[Substitute]:
    """In force or still to come: one's own, those one is, and all of the sites that one administers."""
    sites = Site.objects.for_roles(actor, Role.ADMINISTRATOR)
    rows = Substitute.objects.not_over()
    seen = rows.filter(person=actor) | rows.filter(stands_in=actor) | rows.filter(site__in=sites)
    return seen.distinct().select_related("site", "building", "person", "stands_in", "named_by")


def _in_order(steps: QuerySet[Step]) -> QuerySet[Step]:
    rows = steps.select_related("request__building__site", "request__holder", "request__requester")
    rows = rows.prefetch_related("people", "request__steps").annotate(
        doors=Count("request__doors", distinct=True)
    )
    return rows.order_by("since", "pk")


def _unmanaged(site: Site) -> QuerySet[Building]:
    named = BuildingManager.objects.filter(
        user__is_active=True, user__memberships__site=site, user__memberships__role=Role.MANAGER
    )
    return Building.objects.filter(site=site).exclude(pk__in=named.values("building"))
