"""Cores, what they let in, what was found of them, the formats they are made by, the bench."""

from typing import Any

from django.utils import timezone

from keyctl.formats.models import KeywayFit
from keyctl.proofs.models import Acceptance, Finding, Proof
from tests import factories
from tests.keyctl.formats.shop import make
from tests.scenes.base import Base

OF_CORE = ("bench:record-found", "bench:repin", "bench:repin-done", "exposure:core", "exposure:near")


def routes(base: Base) -> dict[str, Any]:
    core, system, door = base.core, base.system, base.housing.door
    finding = a_finding(base)
    fit = KeywayFit.objects.create(
        blank_keyway=base.name("THIN"), core_keyway="WIDE", reason="Tried", made_by=base.cast.locksmith
    )
    return {
        "cores:door": door.pk,
        "cores:detail": core.pk,
        "cores:pinning": core.pk,
        "cores:move": core.pk,
        "cores:correct": core.pk,
        "cores:bulk": system.pk,
        "cores:bulk-pin": system.pk,
        "cores:key-chart": factories.symbol(system, "A").pk,
        "cores:building-chart": door.building.pk,
        "cores:door-chart": door.pk,
        "cores:symbol": base.change.pk,
        "find-by-tag": core.tag,
        "exposure:site": base.cast.north.pk,
        "exposure:cuts": base.cast.north.pk,
        "exposure:assess": base.cast.north.pk,
        "exposure:system": system.pk,
        "proofs:detail": finding.proof_id,
        "proofs:accept": finding.pk,
        "proofs:end-acceptance": an_acceptance(base).pk,
        "formats:detail": system.format_id,
        "formats:retire": make(base.cast.administrator, base.name("shop")).format_id,
        "formats:remove-keyway": fit.pk,
        **dict.fromkeys(OF_CORE, core.pk),
    }


def a_finding(base: Base) -> Finding:
    proof = Proof.objects.create(site=base.cast.north, asked_by=base.cast.officer)
    facts: dict[str, Any] = {"kind": "does-not-turn", "cause": "unknown", "words": "Not known."}
    facts |= {"site": base.cast.north, "pinned_at": base.core.pinned_at, "is_foreign": False}
    return Finding.objects.create(proof=proof, core=base.core, symbol=base.change, **facts)


def an_acceptance(base: Base) -> Acceptance:
    today = timezone.localdate()
    facts: dict[str, Any] = {"accepted_by": base.cast.officer, "accepted_on": today, "until": today}
    facts |= {"kind": "does-not-turn", "reason": "Known", "pinned_at": base.core.pinned_at}
    return Acceptance.objects.create(core=base.core, symbol=base.change, **facts)
