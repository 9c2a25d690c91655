"""Who reads proofs, who runs them, and whose findings one sees: those of cores at one's own sites."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.cores.proof import Scope
from keyctl.places.access import require_role, require_role_somewhere, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.proofs.models import Acceptance, Finding, Proof
from keyctl.systems.models import KeySystem

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
PROVERS = (Role.LOCKSMITH, Role.OFFICER, Role.ADMINISTRATOR)


def readable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *READERS)


def provable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *PROVERS)


def provable_systems(actor: User) -> QuerySet[KeySystem]:
    """Those whose every site one may prove: the findings of all of them come out."""
    others = Site.objects.exclude(pk__in=provable_sites(actor).values("pk"))
    return KeySystem.objects.at_sites(provable_sites(actor)).exclude(sites__in=others)


def may_prove_all(actor: User) -> bool:
    sites = provable_sites(actor)
    return sites.exists() and not Site.objects.exclude(pk__in=sites.values("pk")).exists()


def require_prover(actor: User, scope: Scope) -> None:
    """A role at the site; for a system or the whole estate, at every site that it stands at."""
    if scope.site:
        require_role(actor, scope.site, *PROVERS)
        return
    sites = scope.system.sites.all() if scope.system else Site.objects.all()
    require_role_somewhere(actor, sites, *PROVERS)
    if sites.exclude(pk__in=provable_sites(actor).values("pk")).exists():
        raise PermissionDenied


def require_reader(actor: User) -> None:
    require_some(readable_sites(actor))


def visible_proofs(actor: User) -> QuerySet[Proof]:
    sites = readable_sites(actor).values("pk")
    return (
        Proof.objects.filter(
            Q(site__in=sites) | Q(system__sites__in=sites) | Q(site__isnull=True, system__isnull=True)
        )
        .select_related("site", "system", "asked_by", "job")
        .distinct()
    )


def readable_proof(actor: User, pk: UUID) -> Proof:
    proof = get_object_or_404(Proof.objects.select_related("site", "system", "asked_by", "job"), pk=pk)
    sites = Site.objects.all()
    if proof.site_id:
        sites = sites.filter(pk=proof.site_id)
    elif proof.system_id:
        sites = sites.filter(key_systems=proof.system_id)
    require_role_somewhere(actor, sites, *READERS)
    return proof


def visible_findings(actor: User, proof: Proof) -> QuerySet[Finding]:
    return proof.findings.filter(site__in=readable_sites(actor))


def acceptable_finding(actor: User, pk: int) -> Finding:
    finding = get_object_or_404(
        Finding.objects.select_related("core", "symbol__system", "proof", "site"), pk=pk
    )
    require_role(actor, finding.site, Role.OFFICER)
    return finding


def endable_acceptance(actor: User, pk: UUID) -> Acceptance:
    acceptance = get_object_or_404(Acceptance.objects.select_related("core__site", "symbol"), pk=pk)
    require_role(actor, acceptance.core.site, Role.OFFICER)
    return acceptance
