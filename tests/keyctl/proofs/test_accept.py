"""An officer accepts a finding for a time; new pins, its end or a second thought open it again."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.proofs.models import Acceptance, Finding
from keyctl.proofs.selectors import acceptances_of, figures_of
from keyctl.proofs.services import accept_finding, end_acceptance
from tests.keyctl.proofs.estate import Estate, put_pins

TODAY = timezone.localdate()
SOON = timedelta(days=30)


@pytest.fixture
def core(estate: Estate) -> Core:
    core = estate.core("AA1")
    put_pins(core, [estate.key("AA1"), estate.key("AA")])
    return core


@pytest.fixture
def finding(estate: Estate, core: Core) -> Finding:
    return estate.prove().findings.get()


def accept(estate: Estate, finding: Finding, **facts: object) -> Acceptance:
    given = {"reason": "Rebuilt in spring", "until": timezone.localdate() + SOON} | facts
    return accept_finding(actor=estate.cast.officer, finding=finding, **given)  # type: ignore[arg-type]


def test_an_accepted_finding_is_not_open(estate: Estate, finding: Finding) -> None:
    accept(estate, finding)
    figures = figures_of(estate.cast.officer, finding.proof)
    assert (figures.findings, figures.open) == (1, 0)


def test_the_next_proof_finds_it_accepted(estate: Estate, finding: Finding) -> None:
    accept(estate, finding)
    again = estate.prove()
    assert figures_of(estate.cast.officer, again).open == 0
    assert again.findings.get() != finding


def test_it_runs_out(estate: Estate, finding: Finding) -> None:
    acceptance = accept(estate, finding)
    past = timezone.localdate() - timedelta(days=1)
    Acceptance.objects.filter(pk=acceptance.pk).update(until=past, accepted_on=past)
    assert not acceptances_of(finding).exists()


def test_new_pins_end_it(estate: Estate, core: Core, finding: Finding) -> None:
    accept(estate, finding)
    Core.objects.filter(pk=core.pk).update(pinned_at=timezone.now())
    again = estate.prove()
    assert figures_of(estate.cast.officer, again).open == 1


def test_it_is_ended_early(estate: Estate, finding: Finding) -> None:
    acceptance = end_acceptance(actor=estate.cast.officer, acceptance=accept(estate, finding))
    assert acceptance.ended_by == estate.cast.officer
    assert not acceptances_of(finding).exists()
    with pytest.raises(Conflict):
        end_acceptance(actor=estate.cast.officer, acceptance=acceptance)


def test_it_can_be_accepted_again_after_that(estate: Estate, finding: Finding) -> None:
    end_acceptance(actor=estate.cast.officer, acceptance=accept(estate, finding))
    accept(estate, finding)
    assert acceptances_of(finding).count() == 1


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"reason": "  "}, "Say why"),
        ({"until": TODAY - timedelta(days=2)}, "an end from today"),
        ({"until": TODAY + timedelta(days=400)}, "an end from today"),
    ],
)
def test_it_refuses(estate: Estate, finding: Finding, facts: dict[str, object], says: str) -> None:
    with pytest.raises(Refused, match=says):
        accept(estate, finding, **facts)


def test_it_is_accepted_once(estate: Estate, finding: Finding) -> None:
    accept(estate, finding)
    with pytest.raises(Conflict):
        accept(estate, finding, until=timezone.localdate() + SOON + SOON)


def test_old_findings_of_new_pins_are_not_accepted(estate: Estate, core: Core, finding: Finding) -> None:
    Core.objects.filter(pk=core.pk).update(pinned_at=timezone.now())
    with pytest.raises(Conflict, match="pinned anew"):
        accept(estate, finding)


@pytest.mark.parametrize("name", ["locksmith", "desk", "manager", "auditor", "administrator"])
def test_only_an_officer_accepts(estate: Estate, finding: Finding, name: str) -> None:
    until = timezone.localdate() + SOON
    with pytest.raises(PermissionDenied):
        accept_finding(actor=estate.cast.everybody[name], finding=finding, reason="So", until=until)


def test_history_tells_both(estate: Estate, finding: Finding) -> None:
    end_acceptance(actor=estate.cast.officer, acceptance=accept(estate, finding))
    verbs = list(Event.objects.order_by("at").values_list("verb", flat=True))[-2:]
    assert verbs == ["finding.accepted", "finding.reopened"]
    said = Event.objects.get(verb="finding.accepted").sentence
    assert "Rebuilt in spring" in said
