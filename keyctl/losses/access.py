"""Who may see and work on a loss. A foreign case is not found; a role that does not suffice is forbidden.

A case concerns the site of the lost key and every site where the key opens something: who reads losses at
one of them reads the case, and of its doors those of their own sites.
"""

from uuid import UUID

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.keys.models import KeyCopy
from keyctl.losses.models import LossCase, LossProof, LossReport, LostCopy, RekeyPlan
from keyctl.places.access import has_role, require_role, require_role_somewhere, require_some, site_for
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

READERS = (
    Role.LOCKSMITH,
    Role.KEY_DESK,
    Role.MANAGER,
    Role.OFFICER,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
)
# A loss is told at the desk, or straight to the officer.
REPORTERS = (Role.KEY_DESK, Role.OFFICER)
# Plans, the end of a case, and what is due are the officer's to decide.
DECIDERS = (Role.OFFICER,)
WORKERS = (Role.LOCKSMITH,)
PROVERS = (Role.LOCKSMITH, Role.OFFICER)
NOTERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.MANAGER, Role.OFFICER)
RULERS = (Role.OFFICER, Role.ADMINISTRATOR)
# What work takes, those who do it know.
RATERS = (Role.LOCKSMITH, *RULERS)


def readable_sites(actor: User) -> QuerySet[Site]:
    """The sites whose losses the actor may look at; somebody with none anywhere is turned away."""
    return require_some(Site.objects.for_roles(actor, *READERS))


def visible_cases(actor: User) -> QuerySet[LossCase]:
    return LossCase.objects.at_sites(readable_sites(actor)).with_names()


def readable_case(actor: User, pk: UUID) -> LossCase:
    """From the site of the loss, or from one where the lost keys open something."""
    case = get_object_or_404(LossCase.objects.with_names(), pk=pk)
    require_role_somewhere(actor, sites_of(case), *READERS)
    return case


def provable_case(actor: User, pk: UUID) -> LossCase:
    return _case_for(actor, pk, *PROVERS)


def decidable_case(actor: User, pk: UUID) -> LossCase:
    """A case of one's own is fetched too: the service says why two persons are needed."""
    return _case_for(actor, pk, *DECIDERS)


def workable_case(actor: User, pk: UUID) -> LossCase:
    return _case_for(actor, pk, *WORKERS, *DECIDERS)


def notable_case(actor: User, pk: UUID) -> LossCase:
    return _case_for(actor, pk, *NOTERS)


def sites_of(case: LossCase) -> QuerySet[Site]:
    """The site of the loss, and those whose cores the last look found."""
    return Site.objects.filter(Q(pk=case.site_id) | Q(pk__in=case.figures.get("sites", ())))


def has_role_in(actor: User, case: LossCase, *roles: Role) -> bool:
    """At the site of the loss: there the case is decided and worked."""
    return Membership.objects.filter(user=actor, site=case.site_id, role__in=roles).exists()


def visible_reports(actor: User) -> QuerySet[LossReport]:
    """For those who may confirm them."""
    sites = Site.objects.for_roles(actor, *REPORTERS)
    reports = LossReport.objects.filter(copy__site__in=sites)
    return reports.select_related("copy__site", "copy__symbol__system", "holder", "reported_by")


def confirmable_report(actor: User, pk: UUID) -> LossReport:
    rows = LossReport.objects.select_related("copy__site", "copy__symbol__system", "holder", "reported_by")
    report = get_object_or_404(rows, pk=pk)
    require_role(actor, report.copy.site, *REPORTERS)
    return report


def own_waiting_copies(actor: User) -> set[UUID]:
    """Those that the actor reported lost and the desk has not looked into."""
    reports = LossReport.objects.filter(reported_by=actor, state=LossReport.State.WAITING)
    return set(reports.values_list("copy", flat=True))


def reads_losses(actor: User, site: Site) -> bool:
    return has_role(actor, site, *READERS)


def reporting_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *REPORTERS)


def reportable_copy(actor: User, pk: UUID) -> KeyCopy:
    copy = get_object_or_404(KeyCopy.objects.with_names(), pk=pk)
    require_role(actor, copy.site, *REPORTERS)
    return copy


def ruled_sites_of(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *RULERS)


def rules_at_all(actor: User) -> bool:
    return ruled_sites_of(actor).exists()


def notable_copy(actor: User, pk: UUID) -> LostCopy:
    rows = LostCopy.objects.select_related("case__site", "copy", "symbol__system", "holder")
    lost = get_object_or_404(rows, pk=pk)
    require_role(actor, lost.case.site, *NOTERS)
    return lost


def readable_proof(actor: User, pk: UUID) -> LossProof:
    proof = get_object_or_404(LossProof.objects.select_related("case__site", "asked_by", "job"), pk=pk)
    require_role_somewhere(actor, sites_of(proof.case), *READERS)
    return proof


def own_copy(actor: User, pk: UUID) -> KeyCopy:
    """A key that is written down as the actor's own; anybody else's is not found."""
    return get_object_or_404(KeyCopy.objects.with_names(), pk=pk, holder__user=actor)


def own_reports(actor: User, copy: KeyCopy) -> QuerySet[LossReport]:
    return LossReport.objects.filter(copy=copy, reported_by=actor).select_related("decided_by")


def ruled_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *RULERS)


def choosable_plan(actor: User, pk: UUID) -> RekeyPlan:
    plan = get_object_or_404(RekeyPlan.objects.select_related("case__site"), pk=pk)
    require_role(actor, plan.case.site, *DECIDERS)
    return plan


def rated_site(actor: User, pk: UUID) -> Site:
    return site_for(actor, pk, *RATERS)


def _case_for(actor: User, pk: UUID, *roles: Role) -> LossCase:
    case = get_object_or_404(LossCase.objects.with_names(), pk=pk)
    require_role(actor, case.site, *roles)
    return case
