"""Rules are never edited: a new version stands beside the old one, which old reports still read."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import RULE_SETTERS
from keyctl.counts.models import CountRule
from keyctl.counts.selectors.rules import newest_versions
from keyctl.counts.services.numbering import hold_site
from keyctl.counts.starting import SETS
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.access import require_role
from keyctl.places.models import Site

Subject = CountRule.Subject
OWN_SOURCE = gettext_lazy("The site’s own rule")


@transaction.atomic
def set_rule(
    *, actor: User, site: Site, subject: str, interval_months: int, seen: int | None = None, **values: Any
) -> CountRule:
    """A new version of the subject's rule. ``seen`` is the number of the version that the page showed."""
    require_role(actor, site, *RULE_SETTERS)
    _refuse_interval(interval_months)
    _refuse_custodians_elsewhere(subject, values)
    values["source"] = (values.get("source") or "").strip() or OWN_SOURCE
    rule = _append(actor, site, subject, seen, interval_months=interval_months, **values)
    record(
        actor=actor,
        verb="count.rule_set",
        sentence=f"set the rule for counting {site}: {_lower(rule)} (version {rule.number})",
        site_id=site.pk,
        subjects=[rule, site],
        detail={"subject": subject, "months": interval_months, "number": rule.number},
    )
    return rule


@transaction.atomic
def end_rule(*, actor: User, site: Site, subject: str, seen: int | None = None) -> CountRule:
    """Nothing is due by it any more; what was due by it before stays written."""
    require_role(actor, site, *RULE_SETTERS)
    old = newest_versions(CountRule.objects.filter(site=site, subject=subject)).get(subject)
    if old is None or old.is_ended:
        raise Refused(
            _("No rule asks for {label} at {site}; there is none to end.").format(
                label=in_sentence(Subject(subject).label), site=site
            )
        )
    facts = {name: getattr(old, name) for name in _VALUES}
    rule = _append(actor, site, subject, seen, is_ended=True, **facts)
    record(
        actor=actor,
        verb="count.rule_ended",
        sentence=f"ended the rule for counting {site}: {_lower(rule)}",
        site_id=site.pk,
        subjects=[rule, site],
        detail={"subject": subject, "number": rule.number},
    )
    return rule


@transaction.atomic
def adopt_set(*, actor: User, site: Site, name: str) -> list[CountRule]:
    """Begin with a named set: its rules become the site's, each with its source, and can be changed."""
    require_role(actor, site, *RULE_SETTERS)
    chosen = SETS.get(name)
    if chosen is None:
        raise Refused(
            _("There is no set of rules called “{name}”. Choose one of those on the page.").format(name=name)
        )
    return [
        set_rule(actor=actor, site=site, subject=subject, source=chosen.source, **facts)
        for subject, facts in chosen.rules.items()
    ]


_VALUES = (
    "interval_months",
    "counters",
    "needs_witness",
    "accepts_declared",
    "missing_days",
    "retention_days",
    "on_new_custodian",
    "blocks_issuing",
    "source",
)


def _append(actor: User, site: Site, subject: str, seen: int | None, **facts: Any) -> CountRule:
    # Two setters at once: the second one waits here and is told.
    hold_site(site)
    newest = CountRule.objects.filter(site=site, subject=subject).order_by("-number").first()
    number = newest.number if newest else 0
    if seen is not None and seen != number:
        raise Conflict(_("This rule was changed while you looked at it. Look at it again."))
    return CountRule.objects.create(site=site, subject=subject, number=number + 1, made_by=actor, **facts)


def _refuse_interval(months: int) -> None:
    if not 1 <= months <= 60:
        raise Refused(_("Count at least every five years: choose between 1 and 60 months."))


def _refuse_custodians_elsewhere(subject: str, values: dict[str, Any]) -> None:
    if subject != Subject.CABINETS and (values.get("on_new_custodian") or values.get("blocks_issuing")):
        raise Refused(_("Only cabinets have custodians. Set this at the rule for cabinets."))
    if values.get("blocks_issuing") and not values.get("on_new_custodian"):
        raise Refused(
            _("Handing out can wait only for the count that a new custodian forces. Choose that too.")
        )


def _lower(rule: CountRule) -> str:
    words = in_english(rule)
    return words[0].lower() + words[1:]
