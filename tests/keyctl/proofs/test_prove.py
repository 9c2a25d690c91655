"""A proof is a job: what it keeps, what it compares with, who may ask for it; a stop costs nothing."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.models import Event
from keyctl.cores import proof as proving
from keyctl.cores.models import Core, Turn
from keyctl.cores.proof import prove_estate
from keyctl.cores.turning import KeyFamily
from keyctl.jobs.models import Job
from keyctl.jobs.running import Cancelled, Running
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import Text
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.proofs.models import Finding, Proof
from keyctl.proofs.selectors import figures_of
from keyctl.proofs.services import prove_now, start_proof
from keyctl.proofs.services.proving import run_proof
from tests import factories
from tests.jobs import finish
from tests.keyctl.proofs.estate import Estate, put_pins, told


def test_a_proof_of_a_site_is_kept_with_its_figures(estate: Estate) -> None:
    core = estate.core("AA1")
    proof = estate.prove()
    turning = Turn.objects.filter(core=core, operates=True).count()
    assert proof.figures == {str(estate.cast.north.pk): [1, turning, 1]}
    assert proof.keys == estate.system.symbols.count()
    assert proof.finished_at is not None
    assert proof.job is not None
    assert proof.job.state == Job.State.DONE


def test_its_outcome_says_what_came_of_it(estate: Estate) -> None:
    put_pins(estate.core("AA1"), [estate.key("AB2")])
    proof = estate.prove()
    assert proof.job is not None
    assert proof.job.outcome["url"] == f"/proofs/{proof.pk}/"
    assert f"{proof.findings.count()} findings" in proof.job.outcome["sentence"]


def test_it_finds_what_the_estate_proof_finds(estate: Estate) -> None:
    put_pins(estate.core("AA1"), [estate.key("AB2"), estate.key("A")])
    estate.core("AA2", "AB1")
    expected = {
        (found.symbol_id, found.kind.value, found.core.pk)
        for found in prove_estate(actor=estate.cast.officer, store=False).disagreements
    }
    found = estate.prove().findings.values_list("symbol", "kind", "core")
    assert expected
    assert set(found) == expected


def test_new_and_gone_are_told_by_the_proof_before(estate: Estate) -> None:
    core = estate.core("AA1")
    put_pins(core, [estate.key("AA1"), estate.key("AA")])
    first = estate.prove()
    assert first.before is None
    assert not first.findings.filter(is_new=True).exists()
    put_pins(core, [estate.key("AA"), estate.key("A")])
    second = estate.prove()
    assert second.before == first
    assert {found.symbol.symbol for found in second.findings.all()} == {"AA1"}
    assert second.findings.filter(is_new=True).count() == 1
    figures = figures_of(estate.cast.officer, second)
    assert (figures.new, figures.gone) == (1, 1)


def test_proofs_of_another_scope_are_not_compared(estate: Estate) -> None:
    estate.core("AA1")
    estate.prove()
    assert estate.prove(system=estate.system).before is None


def test_a_proof_of_a_site_leaves_other_sites_alone(estate: Estate) -> None:
    cast = estate.cast
    south = factories.make_system(cast.south, actor=cast.stranger)
    other = factories.make_core(actor=cast.stranger, site=cast.south, system=south)
    estate.core("AA1")
    Turn.objects.filter(core=other).delete()
    proof = estate.prove()
    assert set(proof.figures) == {str(cast.north.pk)}
    assert not Turn.objects.filter(core=other).exists()


def test_a_proof_of_a_system_tries_its_cores_only(estate: Estate) -> None:
    cast = estate.cast
    factories.make_core(
        actor=cast.locksmith,
        site=cast.north,
        system=factories.make_system(cast.north, actor=cast.administrator),
    )
    estate.core("AA1")
    assert estate.prove(system=estate.system).figures[str(cast.north.pk)][0] == 1


def test_it_brings_stored_turns_up_to_date(estate: Estate) -> None:
    core = estate.core("AA1")
    right = set(Turn.objects.values_list("core", "symbol", "operates", "withdraws"))
    kept = Turn.objects.filter(core=core).first()
    assert kept is not None
    Turn.objects.exclude(pk=kept.pk).delete()
    Turn.objects.create(core=core, symbol=estate.key("AB2"), operates=True, withdraws=False)
    estate.prove()
    assert set(Turn.objects.values_list("core", "symbol", "operates", "withdraws")) == right
    assert Turn.objects.filter(pk=kept.pk).exists()


def test_a_core_that_is_gone_gives_no_finding(estate: Estate) -> None:
    core = estate.core("AA1")
    put_pins(core, [estate.key("AB2")])
    Core.objects.filter(pk=core.pk).update(place=Core.Place.GONE)
    assert told(estate.prove()) == set()


class _Stopping(Running):
    """Asked to stop after so many batches."""

    left = 2

    def step(self, done: int, total: int, words: Text = "") -> None:
        self.left -= 1
        if self.left < 0:
            raise Cancelled
        super().step(done, total, words)


def test_a_stopped_proof_goes_on_where_it_was(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(5):
        put_pins(estate.core("AA1"), [estate.key("AB2")])
    monkeypatch.setattr("keyctl.cores.proof.BATCH", 2)
    job = start_proof(actor=estate.cast.officer, site=estate.cast.north)
    job.state, job.run, job.heartbeat_at = Job.State.RUNNING, job.pk, job.asked_at
    job.save()
    with pytest.raises(Cancelled):
        run_proof(_Stopping(job))
    assert Finding.objects.values("core").distinct().count() == 4
    job.refresh_from_db()
    run_proof(Running(job))
    proof = Proof.objects.get()
    assert proof.figures[str(estate.cast.north.pk)][0] == 5
    assert Finding.objects.values("core").distinct().count() == 5
    assert proof.finished_at is not None


def test_keys_added_meanwhile_are_tried_too(estate: Estate) -> None:
    for _ in range(2):
        estate.core("AA1")
    prover = proving.Prover(KeyFamily.of(estate.system), proving.Scope())
    first = prover.take(store=True)
    assert first is not None
    late = factories.make_system(estate.cast.north, actor=estate.cast.administrator, keyway="WIDE")
    prover.after = None
    second = prover.take(store=True)
    assert second is not None
    assert {key for found in second.effects.values() for key in found} & set(
        late.symbols.values_list("pk", flat=True)
    )


def test_history_tells_a_proof_at_its_site(estate: Estate) -> None:
    estate.core("AA1")
    estate.prove()
    event = Event.objects.filter(verb="estate.proven").latest("at")
    assert event.site_id == estate.cast.north.pk
    assert "0 disagreements" in event.sentence


@pytest.mark.parametrize("name", ["desk", "manager", "auditor", "requester"])
def test_only_who_answers_for_cores_proves_them(estate: Estate, name: str) -> None:
    estate.core("AA1")
    with pytest.raises(PermissionDenied):
        start_proof(actor=estate.cast.everybody[name], site=estate.cast.north)


def test_who_lost_the_role_meanwhile_proves_nothing(estate: Estate) -> None:
    estate.core("AA1")
    job = start_proof(actor=estate.cast.officer, site=estate.cast.north)
    Membership.objects.filter(user=estate.cast.officer).update(role=Role.AUDITOR)
    assert finish(job).state == Job.State.FAILED
    assert Proof.objects.get().finished_at is None


def test_a_stranger_finds_no_site_to_prove(estate: Estate) -> None:
    estate.core("AA1")
    with pytest.raises(Http404):
        start_proof(actor=estate.cast.stranger, site=estate.cast.north)


def test_the_whole_estate_is_proved_by_who_may_prove_every_site(estate: Estate) -> None:
    estate.core("AA1")
    officer = estate.cast.officer
    with pytest.raises(PermissionDenied):
        start_proof(actor=officer)
    Membership.objects.create(user=officer, site=estate.cast.south, role=Role.OFFICER)
    finish(start_proof(actor=officer))
    assert Proof.objects.get().of == "the whole estate"


def test_a_system_at_a_site_of_others_is_not_proved(estate: Estate) -> None:
    estate.core("AA1")
    estate.system.sites.add(estate.cast.south)
    with pytest.raises(PermissionDenied):
        start_proof(actor=estate.cast.officer, system=estate.system)


def test_nothing_pinned_is_nothing_to_prove(estate: Estate) -> None:
    with pytest.raises(Refused, match="nothing to prove"):
        start_proof(actor=estate.cast.officer, site=estate.cast.north)


def test_one_proof_of_a_scope_runs_at_a_time(estate: Estate) -> None:
    estate.core("AA1")
    asked: dict[str, Any] = {"actor": estate.cast.officer, "site": estate.cast.north}
    start_proof(**asked)
    with pytest.raises(Conflict):
        start_proof(**asked)


def test_a_command_proves_without_a_job(estate: Estate) -> None:
    estate.core("AA1")
    Membership.objects.create(user=estate.cast.officer, site=estate.cast.south, role=Role.OFFICER)
    done: list[int] = []
    proof = prove_now(actor=estate.cast.officer, watch=done.append)
    assert (proof.job, done) == (None, [1])
    assert proof.finished_at is not None
