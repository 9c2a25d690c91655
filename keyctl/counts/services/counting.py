"""Beginning a count: who counts, who watches, and what the register has there at that moment."""

import secrets
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.counts.access import COUNTERS, WITNESSES
from keyctl.counts.models import Count, CountExpected, CountRule
from keyctl.counts.selectors.due import SHOWN_AHEAD, due_day
from keyctl.counts.selectors.keys import AT_HAND, copies_to_count, copy_by_mark, is_holder
from keyctl.counts.selectors.rules import rule_for
from keyctl.counts.services.numbering import hold_site, locked_count, next_number
from keyctl.counts.services.scanning import serials_in
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.access import has_role, require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol

Scope, State, Subject = Count.Scope, Count.State, CountRule.Subject
MOST_SAMPLED = 500

ROLES = {
    CountRule.Counters.DESK: (Role.KEY_DESK,),
    CountRule.Counters.LOCKSMITH: (Role.LOCKSMITH,),
    CountRule.Counters.EITHER: COUNTERS,
}


@transaction.atomic
def start_count(
    *,
    actor: User,
    site: Site,
    scope: str,
    cabinet: Cabinet | None = None,
    holder: Holder | None = None,
    subject: str = "",
    symbol: KeySymbol | None = None,
    serials: str = "",
    sample_size: int | None = None,
    witness: User | None = None,
) -> Count:
    """Count something now; where a count of the same is due already, that one begins.

    ``serials`` lists the keys of a count by serial, by line or comma, where no subject or symbol names them.
    """
    require_role(actor, site, *COUNTERS)
    facts = {"cabinet": cabinet, "holder": holder, "subject": subject, "symbol": symbol}
    count = Count(site=site, scope=scope, sample_size=sample_size, reason=Count.Reason.HAND, **facts)
    listed = listed_copies(site, serials) if serials.strip() and not (subject or symbol) else []
    _refuse_half_said(count, listed)
    hold_site(site)
    waiting = _waiting_for(count)
    if waiting is None:
        count.number = next_number(site)
        count.save(force_insert=True)
    return begin_count(actor=actor, count=waiting or count, witness=witness, listed=listed)


@transaction.atomic
def begin_count(
    *, actor: User, count: Count, witness: User | None = None, listed: Sequence[KeyCopy] = ()
) -> Count:
    """From here on the count stands against the register of this moment, and what moves is reconciled."""
    count = locked_count(count, State.DUE)
    require_role(actor, count.site, *COUNTERS)
    count.rule = rule_for(count.site, subject_of(count)) if count.scope != Scope.SAMPLE else None
    _set_due(count)
    _refuse_counter(actor, count)
    _refuse_witness(actor, count, witness)
    copies = list(listed) or _copies(count)
    own = _own_keys(actor, count, copies)
    count.needs_witness = bool(own) or bool(count.rule and count.rule.needs_witness)
    if count.needs_witness and witness is None:
        raise Refused(
            own or _("The rule asks for a witness. Name somebody who watches and confirms the count.")
        )
    count.state, count.counter, count.witness = State.RUNNING, actor, witness
    count.started_at, count.version = timezone.now(), count.version + 1
    count.custodian = count.cabinet.custodian if count.cabinet else None
    count.save()
    CountExpected.objects.bulk_create([_expected(count, copy) for copy in copies], batch_size=2000)
    _tell(actor, count, witness)
    return count


@transaction.atomic
def confirm_witness(*, actor: User, count: Count) -> Count:
    """The witness says under their own name that they watched; nobody else can say it for them."""
    count = locked_count(count, State.RUNNING)
    if count.witness_id != actor.pk:
        raise Refused(
            _("{value} is to witness {count}. They confirm it when signed in.").format(
                value=count.witness or _("Nobody"), count=count
            )
        )
    if count.witnessed_at:
        return count
    count.witnessed_at, count.version = timezone.now(), count.version + 1
    count.save(update_fields=["witnessed_at", "version"])
    record(
        actor=actor,
        verb="count.witnessed",
        sentence=f"confirmed to have watched count {count.number} of {in_english(lambda: count.what)}",
        site_id=count.site_id,
        subjects=_subjects(count),
    )
    return count


def subject_of(count: Count) -> str:
    """The subject whose rule governs the count."""
    by_scope = {Scope.CABINET: Subject.CABINETS, Scope.HOLDER: Subject.HOLDERS}
    return by_scope.get(Scope(count.scope), count.subject)


def listed_copies(site: Site, serials: str) -> list[KeyCopy]:
    """The copies of a typed list, each once; what cannot be sought is named."""
    found = {mark: copy_by_mark(site, mark) for mark in serials_in(serials)}
    unknown = [mark for mark, copy in found.items() if copy is None]
    if unknown:
        raise Refused(
            _("{site} has no key with the serial {unknown}. Look at the list again.").format(
                site=site, unknown=", ".join(unknown[:5])
            )
        )
    copies = {copy.pk: copy for copy in found.values() if copy}
    gone = [copy for copy in copies.values() if copy.state not in AT_HAND]
    if gone:
        raise Refused(
            _("Copy {gone} is {value}. Take it off the list.").format(
                gone=gone[0], value=in_sentence(gone[0].get_state_display())
            )
        )
    return list(copies.values())


def _set_due(count: Count) -> None:
    """Begun by hand when due, or nearly: then it is what the rule asked for, and in time or late."""
    if count.rule is None or count.due_on or count.symbol:
        return
    due_on = due_day(count, count.rule)
    if due_on <= timezone.localdate() + SHOWN_AHEAD:
        count.due_on, count.reason = due_on, Count.Reason.RULE


def _waiting_for(count: Count) -> Count | None:
    """The open count of the same thing; one that runs already is refused."""
    if count.scope == Scope.SAMPLE or count.symbol or (count.scope == Scope.KEYS and not count.subject):
        return None
    same = {"cabinet": count.cabinet, "holder": count.holder, "subject": count.subject}
    found = Count.objects.filter(site=count.site, scope=count.scope, **same).open().with_names().first()
    if found and found.state == State.RUNNING:
        raise Refused(
            _("{counter} is counting {what} already (count {number}).").format(
                counter=found.counter, what=found.what, number=found.number
            )
        )
    return found


def _refuse_half_said(count: Count, listed: Sequence[KeyCopy]) -> None:
    if count.scope == Scope.CABINET and (count.cabinet is None or count.cabinet.site_id != count.site_id):
        raise Refused(_("Choose a cabinet of {site}.").format(site=count.site))
    if count.scope == Scope.HOLDER and (count.holder is None or count.holder.site_id != count.site_id):
        raise Refused(_("Choose a holder at {site}.").format(site=count.site))
    if count.scope in {Scope.KEYS, Scope.SAMPLE} and not (count.subject or count.symbol or listed):
        raise Refused(_("Choose which keys are counted."))
    if count.scope == Scope.SAMPLE and not 1 <= (count.sample_size or 0) <= MOST_SAMPLED:
        raise Refused(
            _("Draw between 1 and {most_sampled} keys for a sample.").format(most_sampled=MOST_SAMPLED)
        )


def _refuse_counter(actor: User, count: Count) -> None:
    if count.rule is None:
        return
    rule_counters = CountRule.Counters(count.rule.counters)
    if not has_role(actor, count.site, *ROLES[rule_counters]):
        raise Refused(
            _("The rule says who counts here: {label}.").format(label=in_sentence(rule_counters.label))
        )


def _refuse_witness(actor: User, count: Count, witness: User | None) -> None:
    if witness is None:
        return
    if witness.pk == actor.pk:
        raise Refused(_("Nobody witnesses their own count. Name somebody else."))
    if not witness.is_active or not has_role(witness, count.site, *WITNESSES):
        raise Refused(
            _("{witness} is not of the staff of {site}. Name somebody who is.").format(
                witness=witness, site=count.site
            )
        )


def _copies(count: Count) -> list[KeyCopy]:
    copies = list(copies_to_count(count).select_related("cabinet", "holder__person"))
    if count.scope != Scope.SAMPLE:
        return copies
    size = min(count.sample_size or 0, len(copies))
    if not size:
        raise Refused(
            _("{site} has none of these keys; there is nothing to draw from.").format(site=count.site)
        )
    return secrets.SystemRandom().sample(copies, size)


def _own_keys(actor: User, count: Count, copies: list[KeyCopy]) -> str:
    """Why the counter may not count alone: what is counted is in their own keeping."""
    if count.cabinet and count.cabinet.custodian_id == actor.pk:
        return _("You keep {cabinet} yourself. Name a witness: nobody counts their own keys alone.").format(
            cabinet=count.cabinet
        )
    kept = any(
        (copy.cabinet and copy.cabinet.custodian_id == actor.pk) or is_holder(actor, copy.holder)
        for copy in copies
    )
    if kept or is_holder(actor, count.holder):
        return _("Some of these keys are in your own keeping. Name a witness: nobody counts their own alone.")
    return ""


def _expected(count: Count, copy: KeyCopy) -> CountExpected:
    return CountExpected(
        count=count, copy=copy, copy_version=copy.version, cabinet=copy.cabinet, holder=copy.holder
    )


def _tell(actor: User, count: Count, witness: User | None) -> None:
    watched = f", watched by {witness}" if witness else ""
    record(
        actor=actor,
        verb="count.begun",
        sentence=f"began count {count.number} of {in_english(lambda: count.what)}{watched}",
        site_id=count.site_id,
        subjects=_subjects(count),
        detail={"number": count.number, "scope": count.scope},
    )


def _subjects(count: Count) -> list[Any]:
    return [thing for thing in (count, count.cabinet, count.holder) if thing]
