"""Writing down which requests need whose decision. Who decided already is not asked again."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.deciders import WORKERS
from keyctl.approvals.models import MOST_SILENT_HOURS, ApprovalRule, Deciders
from keyctl.approvals.ruling import starting_rows
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at

When = ApprovalRule.When
MOST_RULES = 30
FIRST_STAYS = gettext_lazy(
    "The building’s people always decide first. Change after how many hours others are asked."
)


@transaction.atomic
def add_rule(*, actor: User, site: Site, people: Sequence[User] = (), **facts: Any) -> ApprovalRule:
    """``facts`` are when, level, door_class, extra, who, is_apart and silent_hours. It comes last."""
    _begin(actor, site)
    _refuse_facts(site, people, **facts)
    last = ApprovalRule.objects.filter(site=site).order_by("ordinal").last()
    ordinal = last.ordinal + 1 if last else 1
    if ApprovalRule.objects.filter(site=site).count() >= MOST_RULES:
        raise Refused(
            _("A site has at most {most_rules} approval rules. Change one that there is.").format(
                most_rules=MOST_RULES
            )
        )
    rule = ApprovalRule.objects.create(site=site, ordinal=ordinal, **facts)
    rule.people.set(people)
    _tell(actor, rule, "approval_rule.added", f"added an approval rule: {in_english(rule)}")
    return rule


@transaction.atomic
def change_rule(
    *, actor: User, rule: ApprovalRule, people: Sequence[User] = (), **facts: Any
) -> ApprovalRule:
    rule = _held(actor, rule)
    before = in_english(rule)
    if is_first(rule):
        facts = {**facts, "when": When.ALWAYS, "who": Deciders.BUILDING, "is_apart": False}
    _refuse_facts(rule.site, people, **facts)
    for name, fact in facts.items():
        setattr(rule, name, fact)
    rule.save(update_fields=list(facts))
    rule.people.set(people)
    _tell(actor, rule, "approval_rule.changed", f"changed an approval rule: {before}, now {in_english(rule)}")
    return rule


@transaction.atomic
def remove_rule(*, actor: User, rule: ApprovalRule) -> None:
    rule = _held(actor, rule)
    if is_first(rule):
        raise Refused(FIRST_STAYS)
    _tell(actor, rule, "approval_rule.removed", f"removed an approval rule: {in_english(rule)}")
    rule.delete()


@transaction.atomic
def move_rule_up(*, actor: User, rule: ApprovalRule) -> ApprovalRule:
    """Steps come in the order of the rules that ask for them."""
    rule = _held(actor, rule)
    above = ApprovalRule.objects.filter(site=rule.site, ordinal__lt=rule.ordinal).last()
    if above is None or is_first(above):
        raise Refused(_("This rule is the first already: nothing comes before the building’s people."))
    here, there = rule.ordinal, above.ordinal
    free = (ApprovalRule.objects.filter(site=rule.site).aggregate(Max("ordinal"))["ordinal__max"] or 0) + 1
    # No two rules stand in one place, not even for a moment.
    for moved, ordinal in ((rule, free), (above, here), (rule, there)):
        moved.ordinal = ordinal
        moved.save(update_fields=["ordinal"])
    _tell(actor, rule, "approval_rule.moved", f"moved an approval rule up: {in_english(rule)}")
    return rule


@transaction.atomic
def write_rules_down(*, actor: User, site: Site) -> None:
    """The starting set as rules of the site's own, to be changed."""
    require_role(actor, site, Role.ADMINISTRATOR)
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)
    if ApprovalRule.objects.filter(site=site).exists():
        raise Conflict(_("{site} has rules of its own already. Change those.").format(site=site))
    _write_starting(site)
    sentence = "wrote the starting set of approval rules down"
    record(actor=actor, verb="approval_rules.written", sentence=sentence, site_id=site.pk, subjects=[site])


def is_first(rule: ApprovalRule) -> bool:
    """The rule about whom every request meets first: it stays."""
    return rule.when == When.ALWAYS and rule.who == Deciders.BUILDING and not rule.is_apart


def _begin(actor: User, site: Site) -> None:
    """Rules of a site are written one act at a time; the first one writes the starting set down before."""
    require_role(actor, site, Role.ADMINISTRATOR)
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)
    if not ApprovalRule.objects.filter(site=site).exists():
        _write_starting(site)


def _write_starting(site: Site) -> None:
    ApprovalRule.objects.bulk_create(starting_rows(site))


def _held(actor: User, rule: ApprovalRule) -> ApprovalRule:
    require_role(actor, rule.site, Role.ADMINISTRATOR)
    Site.objects.select_for_update(no_key=True).get(pk=rule.site_id)
    found = ApprovalRule.objects.select_related("site").filter(pk=rule.pk).first()
    if found is None:
        raise Conflict(_("This rule was removed meanwhile. Look at the rules again."))
    return found


def _refuse_facts(site: Site, people: Sequence[User], **facts: Any) -> None:
    wants = {When.LEVEL: "level", When.DOOR_CLASS: "door_class", When.EXTRA: "extra"}
    words = {"level": _("the level"), "door_class": _("the class of doors"), "extra": _("how many doors")}
    for when, name in wants.items():
        given = facts.get(name) not in {None, ""}
        if (facts["when"] == when) != given:
            raise Refused(
                _("Say {words} for a rule about it, and leave it empty for every other rule.").format(
                    words=words[name]
                )
            )
    if not 1 <= facts["silent_hours"] <= MOST_SILENT_HOURS:
        raise Refused(
            _("Others are asked after 1 to {most_silent_hours} hours of silence.").format(
                most_silent_hours=MOST_SILENT_HOURS
            )
        )
    if (facts["who"] == Deciders.NAMED) != bool(people):
        raise Refused(_("Name the people for a rule about named people, and nobody for every other rule."))
    for person in people:
        if not person.is_active or not has_role(person, site, *WORKERS):
            raise Refused(
                _("{person} does not work at {site}. Give them a role there, or name somebody else.").format(
                    person=person, site=site
                )
            )


def _tell(actor: User, rule: ApprovalRule, verb: str, sentence: str) -> None:
    """Officers hear of every change: rules are what holds a request up."""
    for officer in people_at(rule.site, Role.OFFICER):
        send_notice(
            to=mail_of(officer),
            name=str(officer),
            kind="requests.rules_changed",
            template="requests/rules_changed",
            facts={
                "actor": actor,
                "sentence": sentence,
                "site": rule.site,
                "path": reverse("approvals:rules"),
            },
            site=rule.site,
            about=[rule.site],
        )
    record(actor=actor, verb=verb, sentence=sentence, site_id=rule.site_id, subjects=[rule.site])
