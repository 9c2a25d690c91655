"""Closing a count: the scans against the register, differences written as cases, the handover made ready."""

from collections import Counter
from collections.abc import Iterable
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.models import EventSubject
from keyctl.audit.services import record
from keyctl.counts.access import COUNTERS
from keyctl.counts.comparing import Difference, Outcome, Scanned, Standing, compare
from keyctl.counts.models import Count, CountCase, CountExpected, CountScan
from keyctl.counts.selectors.keys import standings, weighty_symbols
from keyctl.counts.services.handovers import finish_handovers
from keyctl.counts.services.numbering import locked_count
from keyctl.keys.models import KeyCopy
from keyctl.keys.selectors import law_breaches
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Site

State = Count.State
# An act that gives a copy a new version and moves it nowhere: it proves nobody had it in hand.
STAYS = ("key.broken",)


@transaction.atomic
def close_count(*, actor: User, count: Count) -> Count:
    """Compare and write down. Two tablets close one count once: the second is told."""
    count = locked_count(count, State.RUNNING)
    require_role(actor, count.site, *COUNTERS)
    _refuse_before_the_witness(count)
    if actor.pk == count.witness_id:
        raise Refused(_("The witness does not close the count they watched; the counter does."))
    outcome = _compared(count)
    cases = CountCase.objects.bulk_create(_cases(count, outcome.differences), batch_size=1000)
    count.expected_count = count.expected.count()
    count.sighted_count, count.declared_count = outcome.sighted, outcome.declared
    count.handled_count, count.difference_count = outcome.handled, len(cases)
    count.law_breaches = len(law_breaches(Site.objects.filter(pk=count.site_id)))
    count.state, count.ended_at, count.ended_by = State.CLOSED, timezone.now(), actor
    count.version += 1
    count.save()
    finish_handovers(count)
    _tell(actor, count)
    return count


@transaction.atomic
def cancel_count(*, actor: User, count: Count, note: str) -> Count:
    """Given up, with a reason. What was due stays due; a forced count is not given up."""
    count = locked_count(count, State.DUE, State.RUNNING)
    require_role(actor, count.site, *COUNTERS)
    if not note.strip():
        raise Refused(_("Say why the count is given up; the report of the period tells it."))
    if count.handovers.filter(done_at__isnull=True).exists():
        raise Refused(
            _("{cabinet} has a new custodian, so it has to be counted. Count it.").format(
                cabinet=count.cabinet
            )
        )
    count.state, count.ended_at, count.ended_by = State.CANCELLED, timezone.now(), actor
    count.note, count.version = note.strip(), count.version + 1
    count.save(update_fields=["state", "ended_at", "ended_by", "note", "version"])
    record(
        actor=actor,
        verb="count.cancelled",
        sentence=f"gave up count {count.number} of {in_english(lambda: count.what)}",
        site_id=count.site_id,
        subjects=[count],
        detail={"note": count.note},
    )
    return count


def _refuse_before_the_witness(count: Count) -> None:
    if count.witness and not count.witnessed_at:
        raise Refused(
            _(
                "{witness} has not confirmed the count yet. They open this page, signed in, and confirm."
            ).format(witness=count.witness)
        )
    if count.needs_witness and not count.witness:
        raise Refused(_("This count needs a witness. Give it up and begin again with one."))


def _compared(count: Count) -> Outcome:
    expected = {
        row.copy_id: Standing("", row.cabinet_id or row.holder_id, row.copy_version)
        for row in CountExpected.objects.filter(count=count)
    }
    scans = list(CountScan.objects.filter(count=count, undone_at__isnull=True).order_by("at", "id"))
    copies = {*expected, *(scan.copy_id for scan in scans if scan.copy_id)}
    return compare(
        count.cabinet_id or count.holder_id,
        expected,
        [_scanned(scan) for scan in scans],
        _without_stays(count, standings(copies)),
        accepts_declared=bool(count.rule and count.rule.accepts_declared),
    )


def _scanned(scan: CountScan) -> Scanned:
    place = scan.register_cabinet_id or scan.register_holder_id
    standing = Standing(scan.register_state, place) if scan.copy_id else None
    return Scanned(scan.serial, scan.copy_id, standing, scan.way == CountScan.Way.DECLARED)


def _without_stays(count: Count, now: dict[UUID, Standing]) -> dict[UUID, Standing]:
    """Versions as if nothing had been written of a copy that leaves it where it was."""
    subjects = EventSubject.objects.filter(
        kind=KeyCopy._meta.label_lower, event__verb__in=STAYS, event__at__gte=count.started_at
    )
    stays = Counter(subjects.values_list("subject_id", flat=True))
    return {pk: Standing(at.state, at.place, at.version - stays[pk]) for pk, at in now.items()}


def _cases(count: Count, differences: Iterable[Difference]) -> list[CountCase]:
    differences = list(differences)
    pks = {each.copy for each in differences if each.copy}
    copies = {
        copy.pk: copy for copy in KeyCopy.objects.filter(pk__in=pks).select_related("cabinet", "holder")
    }
    weighty = weighty_symbols(count.site, {copy.symbol_id for copy in copies.values()})
    return [_case(count, each, copies.get(each.copy) if each.copy else None, weighty) for each in differences]


def _case(count: Count, found: Difference, copy: KeyCopy | None, weighty: set[UUID]) -> CountCase:
    return CountCase(
        count=count,
        kind=found.kind,
        serial=copy.serial if copy else found.serial,
        copy=copy,
        cabinet=copy.cabinet if copy else None,
        holder=copy.holder if copy else None,
        is_declared=found.is_declared,
        is_weighty=bool(copy and copy.symbol_id in weighty),
        counted_by=count.counter,
    )


def _tell(actor: User, count: Count) -> None:
    found = count.difference_count
    words = "no difference" if not found else "1 difference" if found == 1 else f"{found} differences"
    record(
        actor=actor,
        verb="count.closed",
        sentence=f"closed count {count.number} of {in_english(lambda: count.what)}: {words}",
        site_id=count.site_id,
        subjects=[thing for thing in (count, count.cabinet, count.holder) if thing],
        detail={
            "number": count.number,
            "expected": count.expected_count,
            "seen": count.sighted_count,
            "declared": count.declared_count,
            "differences": found,
        },
    )
