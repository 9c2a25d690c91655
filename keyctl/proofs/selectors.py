"""Reading proofs: what was found at the sites one may look at, and what became of it."""

from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.proof import Kind
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.proofs.access import readable_sites, visible_findings, visible_proofs
from keyctl.proofs.models import Acceptance, Cause, Finding, Proof

# What a page can be narrowed to beside the kinds: words and the rule.
VIEWS: dict[str, tuple[Text, Q]] = {
    "": (gettext_lazy("All"), Q()),
    "withdrawing": (
        gettext_lazy("Operating keys that would take a core out"),
        Q(kind=Kind.WITHDRAWS_UNPLANNED) & ~Q(symbol__kind="control"),
    ),
    "foreign": (gettext_lazy("Keys of another system"), Q(is_foreign=True)),
    "new": (gettext_lazy("New since the last proof"), Q(is_new=True)),
}
GONE = "gone"


@dataclass(frozen=True)
class Figures:
    cores: int
    keys: int
    turning: int
    withdrawing: int
    findings: int
    open: int
    new: int
    gone: int


def in_force() -> QuerySet[Acceptance]:
    return Acceptance.objects.filter(until__gte=timezone.localdate(), ended_at__isnull=True)


def acceptances_of(finding: Finding) -> QuerySet[Acceptance]:
    """Those that hold now for this finding: same pins, not ended, not run out."""
    return in_force().filter(
        core=finding.core_id, symbol=finding.symbol_id, kind=finding.kind, pinned_at=finding.pinned_at
    )


def accepting() -> QuerySet[Acceptance]:
    """For a subquery on findings."""
    return in_force().filter(
        core=OuterRef("core"),
        symbol=OuterRef("symbol"),
        kind=OuterRef("kind"),
        pinned_at=OuterRef("pinned_at"),
    )


def listed_proofs(actor: User) -> QuerySet[Proof]:
    here = Q(findings__site__in=readable_sites(actor))
    return (
        visible_proofs(actor)
        .annotate(
            found=Count("findings", here, distinct=True),
            new=Count("findings", here & Q(findings__is_new=True), distinct=True),
        )
        .order_by("-asked_at", "-pk")
    )


def figures_of(actor: User, proof: Proof) -> Figures:
    findings = visible_findings(actor, proof)
    sites = {str(pk) for pk in readable_sites(actor).values_list("pk", flat=True)}
    counted = findings.aggregate(found=Count("pk"), new=Count("pk", filter=Q(is_new=True)))
    return Figures(
        cores=proof.count(sites, 0),
        keys=proof.keys,
        turning=proof.count(sites, 1),
        withdrawing=proof.count(sites, 2),
        findings=counted["found"],
        open=findings.filter(~Exists(accepting())).count(),
        new=counted["new"],
        gone=gone_findings(actor, proof).count(),
    )


def gone_findings(actor: User, proof: Proof) -> QuerySet[Finding]:
    """What the proof before found and this one did not."""
    if proof.before is None:
        return Finding.objects.none()
    still = proof.findings.filter(core=OuterRef("core"), symbol=OuterRef("symbol"), kind=OuterRef("kind"))
    return visible_findings(actor, proof.before).filter(~Exists(still))


def listed_findings(
    actor: User, proof: Proof, wanted: dict[str, str], site: Site | None
) -> QuerySet[Finding]:
    """New ones first; each with whether it is accepted."""
    view = wanted.get("view", "")
    found = gone_findings(actor, proof) if view == GONE else visible_findings(actor, proof)
    if view in VIEWS:
        found = found.filter(VIEWS[view][1])
    if site:
        found = found.filter(site=site)
    found = found.filter(**{name: wanted[name] for name in ("kind", "cause") if wanted.get(name)})
    found = found.annotate(is_accepted=Exists(accepting()))
    if wanted.get("state"):
        found = found.filter(is_accepted=wanted["state"] == "accepted")
    return found.select_related(
        "core__housing__door__floor__building__site",
        "core__carrier",
        "core__system",
        "symbol__system",
        "site",
    ).order_by("is_accepted", "-is_new", "site__code", "core__tag", "symbol__symbol", "kind")


def acceptances_by_finding(findings: list[Finding]) -> dict[int, Acceptance]:
    """For one page."""
    held = in_force().filter(core__in={finding.core_id for finding in findings}).select_related("accepted_by")
    by_key = {(each.core_id, each.symbol_id, each.kind, each.pinned_at): each for each in held}
    keys = {
        finding.pk: (finding.core_id, finding.symbol_id, finding.kind, finding.pinned_at)
        for finding in findings
    }
    return {pk: by_key[key] for pk, key in keys.items() if key in by_key}


def by_cause(actor: User, proof: Proof) -> list[tuple[Cause, int]]:
    counted = visible_findings(actor, proof).values("cause").annotate(n=Count("pk")).order_by("-n", "cause")
    return [(Cause(row["cause"]), row["n"]) for row in counted]


def sites_with_findings(actor: User, proof: Proof) -> QuerySet[Site]:
    return Site.objects.filter(pk__in=visible_findings(actor, proof).values("site"))
