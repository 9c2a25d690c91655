"""The proof: lost cuts on the pins of every core, kept with what was read, stale once pins change."""

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core, Turn
from keyctl.cores.services import pin_core
from keyctl.formats.keyways import add_keyway_fit
from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict
from keyctl.losses.models import LossCase, LossProof
from keyctl.losses.selectors import proof_state
from keyctl.losses.services import prove_case, proving
from keyctl.losses.services.nightly import prove_again
from keyctl.notices.models import Notice
from keyctl.systems.services import bitting_of
from tests import factories
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate
from tests.keyctl.proofs.estate import put_pins


def rekey(estate: Estate, core: Core, name: str) -> None:
    """Pin it to another key, the way a locksmith does."""
    core.refresh_from_db()
    core.keyings.all().delete()
    core.keyings.create(symbol=estate.key(name))
    core.place, core.housing = Core.Place.BENCH, None
    core.save()
    pin_core(actor=estate.cast.locksmith, core=core, version=core.version)


def prove(estate: Estate, case: LossCase) -> LossProof:
    case.refresh_from_db()
    proof = prove_case(actor=estate.cast.officer, case=case)
    case.refresh_from_db()
    return proof


def test_a_core_that_the_lost_key_turns_is_left_and_listed(estate: Estate) -> None:
    door = estate.door("AA1")
    estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    proof = prove(estate, case)
    left = proof.left_overs.get()
    assert (proof.cores, proof.keys, proof.left, proof.is_clean) == (2, 1, 1, False)
    assert (left.core, left.operates, left.withdraws) == (door, True, False)
    assert left.whereabouts == f"in {door.housing}"
    assert case.state == "open"


def test_no_core_left_proves_the_case(estate: Estate) -> None:
    door = estate.door("AA1")
    case = estate.lose(estate.held("AA1"))
    rekey(estate, door, "AB1")
    proof = prove(estate, case)
    state = proof_state(case)
    assert proof.is_clean
    assert case.state == "proven"
    assert state is not None
    assert state.holds
    assert "the lost key turns nothing" in history_of(case)[0].sentence
    assert case.figures["cells"][0]["state"] == "cleared"


@pytest.mark.parametrize("place", ["shelf", "bench"])
def test_spare_cores_count(estate: Estate, place: str) -> None:
    core = estate.core("AA1")
    Core.objects.filter(pk=core.pk).update(place=place)
    assert prove(estate, estate.lose(estate.held("AA1"))).left == 1


def test_a_core_that_is_gone_does_not_count(estate: Estate) -> None:
    core = estate.core("AA1")
    Core.objects.filter(pk=core.pk).update(place="gone")
    proof = prove(estate, estate.lose(estate.held("AA1")))
    assert (proof.cores, proof.left) == (0, 0)


def test_cores_of_every_site_are_read(estate: Estate) -> None:
    estate.system.sites.add(estate.cast.south)
    estate.door("AA1", floor=factories.make_floor(estate.cast.south))
    estate.door("AB1")
    proof = prove(estate, estate.lose(estate.held("AA1")))
    assert (proof.cores, proof.sites, proof.left) == (2, 2, 1)


def test_the_pins_are_read_and_not_the_stored_turns(estate: Estate) -> None:
    door = estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    put_pins(door, [estate.key("AA1")])
    assert not Turn.objects.filter(core=door, symbol=estate.key("AA1")).exists()
    assert prove(estate, case).left == 1


def test_a_blank_of_another_keyway_is_tried_where_it_enters(estate: Estate) -> None:
    other = factories.make_system(estate.cast.north, actor=estate.cast.administrator, keyway="NARROW")
    core = factories.make_core(actor=estate.cast.locksmith, site=estate.cast.north, system=other)
    put_pins(core, [estate.key("AA1")], other.symbols.get(kind="control"))
    case = estate.lose(estate.held("AA1"))
    assert prove(estate, case).cores == 0
    add_keyway_fit(actor=estate.cast.locksmith, blank_keyway="WIDE", core_keyway="NARROW", reason="Tried it")
    proof = prove(estate, case)
    assert (proof.cores, proof.left) == (1, 1)


def test_cores_in_doors_whose_pins_nobody_told_are_counted(estate: Estate) -> None:
    core = factories.make_core(
        actor=estate.cast.locksmith, site=estate.cast.north, system=estate.system, pinned=False
    )
    factories.install(core, factories.make_housing(estate.cast.north))
    assert prove(estate, estate.lose(estate.held("AA1"))).unknown == 1


def test_the_digest_is_over_the_sealed_keys_and_pins(estate: Estate) -> None:
    cores = [estate.door("AB1"), estate.door("AB2")]
    key = estate.key("AA1")
    proof = prove(estate, estate.lose(estate.held("AA1")))
    read = key.pk.bytes + hashlib.sha256(bytes(key.bitting)).digest()
    for core in sorted(cores, key=lambda core: str(core.pk)):
        core.refresh_from_db()
        assert core.pinning is not None
        read += core.pk.bytes + hashlib.sha256(bytes(core.pinning)).digest()
    assert proof.digest == hashlib.sha256(read).hexdigest()


def test_pins_changed_after_the_proof_make_it_stale(estate: Estate) -> None:
    door = estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    prove(estate, case)
    rekey(estate, door, "AB2")
    state = proof_state(case)
    assert state is not None
    assert (state.changed, state.again, state.holds) == (1, 0, False)
    assert prove(estate, case).is_clean
    state = proof_state(case)
    assert state is not None
    assert state.holds


def test_pins_that_let_the_lost_key_in_again_are_told_at_once(estate: Estate) -> None:
    door = estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    prove(estate, case)
    rekey(estate, door, "AA1")
    state = proof_state(case)
    assert state is not None
    assert (state.again, state.holds) == (1, False)
    assert not prove(estate, case).is_clean
    assert case.state == "open"


def test_the_nightly_look_finds_what_lets_a_lost_key_in_again(estate: Estate) -> None:
    estate.cast.officer.email = "officer@example.org"
    estate.cast.officer.save()
    door = estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    first = prove(estate, case)
    LossCase.objects.filter(pk=case.pk).update(
        state="closed", closed_by=estate.cast.officer, closed_at=timezone.now(), outcome="Proven"
    )
    night = timezone.now() + timedelta(hours=5)
    assert "They still turn nothing." in prove_again(night)
    first.refresh_from_db()
    assert first.confirmed_at == night

    rekey(estate, door, "AA1")
    assert "Cases whose keys turn something again: 1." in prove_again(night)

    found = LossProof.objects.exclude(pk=first.pk).get()
    assert (found.left, found.asked_by) == (1, None)
    notice = Notice.objects.get(template_subject_is(case))
    assert notice.to == "officer@example.org"
    assert prove_again(night).startswith("No case")


def template_subject_is(case: LossCase) -> Any:
    from django.db.models import Q

    return Q(subject__contains=f"{case}: the lost keys turn something again")


def test_a_long_proof_is_a_job(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(proving, "MOST_AT_ONCE", 1)
    estate.door("AA1")
    estate.door("AB1")
    case = estate.lose(estate.held("AA1"))
    proof = prove(estate, case)
    assert proof.job is not None
    assert proof.finished_at is None
    with pytest.raises(Conflict, match="running already"):
        prove_case(actor=estate.cast.officer, case=case)
    job = finish(proof.job)
    proof.refresh_from_db()
    assert (job.state, proof.left, proof.cores) == (Job.State.DONE, 1, 2)
    assert bitting_of(estate.key("AA1")) not in str(job.outcome)


def test_a_key_that_came_into_the_case_later_is_not_proven(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    prove(estate, case)
    other = estate.lose(estate.held("AB1"))
    other.lost_copies.update(case=case)
    state = proof_state(case)
    assert state is not None
    assert not state.holds


def test_history_and_proof_hold_no_cuts(estate: Estate) -> None:
    estate.door("AA1")
    case = estate.lose(estate.held("AA1"))
    proof = prove(estate, case)
    told = str(vars(proof)) + "".join(event.sentence + str(event.detail) for event in history_of(case))
    assert bitting_of(estate.key("AA1")) not in told
