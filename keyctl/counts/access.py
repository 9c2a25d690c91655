"""Who may see, make and settle counts. A foreign one is not found; too small a role is forbidden."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.counts.models import CabinetHandover, Count, CountCase, EvidenceReport
from keyctl.places.access import has_role, require_role, require_some, site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
COUNTERS = (Role.LOCKSMITH, Role.KEY_DESK)
# A witness only watches, so everybody of the staff will do.
WITNESSES = (*READERS, Role.MANAGER)
RULE_SETTERS = (Role.OFFICER, Role.ADMINISTRATOR)
CASE_WORKERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER)
EXCUSERS = (Role.OFFICER,)
REPORTERS = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)


def count_sites(actor: User) -> QuerySet[Site]:
    """The sites whose counts the actor may look at."""
    return Site.objects.for_roles(actor, *READERS)


def refuse_outsiders(actor: User) -> None:
    require_some(count_sites(actor))


def counting_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *COUNTERS)


def reporting_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *REPORTERS)


def counting_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *COUNTERS)


def readable_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *READERS)


def ruled_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *RULE_SETTERS)


def reporting_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *REPORTERS)


def sets_rules(actor: User, site: Site) -> bool:
    return has_role(actor, site, *RULE_SETTERS)


def counts_at(actor: User, site: Site) -> bool:
    return has_role(actor, site, *COUNTERS)


def settles_cases(actor: User, site: Site) -> bool:
    return has_role(actor, site, *CASE_WORKERS)


def visible_counts(actor: User) -> QuerySet[Count]:
    return Count.objects.at_sites(count_sites(actor)).with_names()


def visible_cases(actor: User) -> QuerySet[CountCase]:
    return CountCase.objects.at_sites(count_sites(actor)).with_names()


def readable_count(actor: User, pk: UUID) -> Count:
    """A named witness may look at the count they are to witness, whatever their role."""
    count = _count(pk)
    if count.witness_id != actor.pk:
        require_role(actor, count.site, *READERS)
    return count


def workable_count(actor: User, pk: UUID) -> Count:
    count = _count(pk)
    require_role(actor, count.site, *COUNTERS)
    return count


def witnessed_count(actor: User, pk: UUID) -> Count:
    count = readable_count(actor, pk)
    if count.witness_id != actor.pk:
        raise PermissionDenied
    return count


def readable_case(actor: User, pk: UUID) -> CountCase:
    return _case_for(actor, pk, *READERS)


def workable_case(actor: User, pk: UUID) -> CountCase:
    """Also a case of one's own count: the service says why somebody else closes it."""
    return _case_for(actor, pk, *CASE_WORKERS)


def readable_handover(actor: User, pk: UUID) -> CabinetHandover:
    """Custodians need no role in keys to sign for their own cabinet."""
    handovers = CabinetHandover.objects.select_related(
        "cabinet__site", "count", "giver", "taker", "excused_by", "made_by"
    )
    handover = get_object_or_404(handovers, pk=pk)
    if actor.pk not in {handover.giver_id, handover.taker_id}:
        require_role(actor, handover.cabinet.site, *READERS)
    return handover


def visible_handovers(actor: User) -> QuerySet[CabinetHandover]:
    mine = Q(giver=actor) | Q(taker=actor)
    found = CabinetHandover.objects.filter(Q(cabinet__site__in=count_sites(actor)) | mine)
    return found.select_related("cabinet__site", "count", "giver", "taker", "excused_by")


def own_counts(actor: User) -> QuerySet[Count]:
    """Open counts of keys that the actor holds: whoever holds keys may say that they have them."""
    mine = Q(holder__user=actor) | Q(holder__person__user=actor)
    return Count.objects.filter(mine).open().with_names()


def declarable_count(actor: User, pk: UUID) -> Count:
    """For the holder alone; somebody else of the site is forbidden, a stranger finds nothing."""
    count = _count(pk)
    if not own_counts(actor).filter(pk=pk).exists():
        require_role(actor, count.site, *READERS)
        raise PermissionDenied
    return count


def visible_reports(actor: User) -> QuerySet[EvidenceReport]:
    return EvidenceReport.objects.filter(site__in=reporting_sites(actor)).select_related(
        "site", "actor", "job"
    )


def _count(pk: UUID) -> Count:
    return get_object_or_404(Count.objects.with_names(), pk=pk)


def _case_for(actor: User, pk: UUID, *roles: Role) -> CountCase:
    case = get_object_or_404(CountCase.objects.with_names(), pk=pk)
    require_role(actor, case.count.site, *roles)
    return case
