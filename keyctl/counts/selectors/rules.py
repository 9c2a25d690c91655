"""The rule in force: the newest version of a site and subject, now or at a moment of the past."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from keyctl.counts.models import CountRule
from keyctl.places.models import Site

Subject = CountRule.Subject


def rules_in_force(site: Site, at: datetime | None = None) -> dict[str, CountRule]:
    """Per subject; a subject whose rule was ended has none."""
    newest = newest_versions(CountRule.objects.filter(site=site), at)
    return {subject: rule for subject, rule in newest.items() if not rule.is_ended}


def newest_versions(rules: QuerySet[CountRule], at: datetime | None = None) -> dict[str, CountRule]:
    found = rules.filter(made_at__lte=at) if at else rules
    return {rule.subject: rule for rule in found.order_by("number").select_related("site", "made_by")}


def rule_for(site: Site, subject: str, at: datetime | None = None) -> CountRule | None:
    return rules_in_force(site, at).get(subject)


def versions_at(site: Site) -> QuerySet[CountRule]:
    """Every version, newest first: what was in force when can be read from it."""
    return CountRule.objects.filter(site=site).select_related("made_by").order_by("-made_at", "-number")


def began_at(rules: Iterable[CountRule]) -> dict[str, datetime]:
    """Since when each subject is ruled without a break; a changed value does not put the first count off."""
    begun: dict[str, datetime] = {}
    for rule in sorted(rules, key=lambda each: each.number):
        if rule.is_ended:
            begun.pop(rule.subject, None)
        else:
            begun.setdefault(rule.subject, rule.made_at)
    return begun
