"""What a security officer reads in the morning: losses, looks, the proof, counts, what is exposed."""

from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.exposure.models import CoreExposure
from keyctl.keys.services import report_lost
from keyctl.losses.models import LossCase, LossReport
from keyctl.places.roles import Role
from keyctl.proofs.models import Finding, Proof
from keyctl.reveals.models import Permission
from tests import factories
from tests.cast import Cast
from tests.keyctl.counts.countroom import set_up as set_up_counts
from tests.keyctl.start.reading import block, said, words_of

LOSSES, REPORTS, LOOKS = "Which losses are open?", "Who says that a key is lost?", "Which looks wait"
PROOF, DIFFERENCES, EXPOSED = "Do keys and cores hold", "Which differences", "Which cores are exposed?"


def test_an_open_loss_says_what_is_still_open_and_due(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    symbol = factories.change_key(system)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[symbol])
    factories.install(core, factories.make_housing(cast.north))
    copy = factories.make_copy(symbol, factories.make_cabinet(cast.north))
    report_lost(actor=cast.desk, copy=copy, note="On the way home")
    case = LossCase.objects.get()
    (line,) = block(cast.officer, LOSSES).lines
    assert line.what == str(case)
    assert "still opens 1 door" in line.about
    assert line.act
    assert line.act.label == "Choose a plan"
    LossCase.objects.update(state="cancelled", closed_by=cast.officer, closed_at=timezone.now(), outcome="x")
    assert not block(cast.officer, LOSSES).lines


def test_doors_at_sites_of_others_are_not_counted(cast: Cast) -> None:
    cells = [
        {
            "site": str(site.pk),
            "building": "b",
            "door_class": "ordinary",
            "route": "planned",
            "takes_out": False,
            "is_due": True,
            "state": "exposed",
            "count": count,
        }
        for site, count in ((cast.north, 2), (cast.south, 40))
    ]
    LossCase.objects.create(site=cast.north, number=1, opened_by=cast.officer, figures={"cells": cells})
    (line,) = block(cast.officer, LOSSES).lines
    assert "still opens 2 doors" in line.about
    assert line.mark
    assert line.mark.words == "2 doors due"


def test_a_report_is_confirmed_by_others_than_who_made_it(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    copy = factories.make_copy(factories.change_key(system), factories.make_cabinet(cast.north))
    holder = factories.make_holder(cast.north)
    LossReport.objects.create(copy=copy, holder=holder, reported_by=cast.officer)
    assert not block(cast.officer, REPORTS).lines
    assert [line.what for line in block(cast.desk, REPORTS).lines] == [str(holder)]


def test_a_look_waits_for_others_than_who_asked(cast: Cast) -> None:
    facts: dict[str, Any] = {
        "kind": "core",
        "site": cast.north,
        "reason": "Work",
        "words": "the pins of a core",
    }
    for asker in (cast.locksmith, cast.officer):
        Permission.objects.create(asked_by=asker, subject_id=cast.north.pk, **facts)
    (line,) = block(cast.officer, LOOKS).lines
    assert line.about.startswith("Locksmith at North site")


def proof(cast: Cast, **facts: Any) -> Proof:
    now = timezone.now()
    return Proof.objects.create(asked_by=cast.officer, asked_at=now, finished_at=now, **facts)


def finding(cast: Cast, of: Proof, **facts: Any) -> Finding:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    facts.setdefault("site", cast.north)
    return Finding.objects.create(
        proof=of,
        core=core,
        symbol=factories.change_key(system, 1),
        pinned_at=core.pinned_at or timezone.now(),
        kind="turns-unplanned",
        cause="incidental",
        words="Nobody meant it.",
        is_foreign=False,
        **facts,
    )


def test_before_the_first_proof_it_says_that_nobody_knows(cast: Cast) -> None:
    Proof.objects.create(asked_by=cast.officer, site=cast.north)
    found = block(cast.officer, PROOF)
    assert not found.lines
    assert "Nothing was ever proven" in found.empty


def test_the_last_proof_stands_with_what_is_new_in_it(cast: Cast) -> None:
    last = proof(cast, site=cast.north)
    finding(cast, last)
    new = finding(cast, last, is_new=True)
    found = block(cast.officer, PROOF)
    assert said(found) == [
        ("Proof of North site", "2 findings"),
        (f"Key {new.symbol} on core {new.core}", "New"),
    ]


def test_a_proof_without_findings_is_as_planned_until_it_is_old(cast: Cast) -> None:
    last = proof(cast)
    assert said(block(cast.auditor, PROOF)) == [("Proof of the whole estate", "As planned")]
    month = timezone.now() - timedelta(days=40)
    Proof.objects.filter(pk=last.pk).update(asked_at=month, finished_at=month)
    assert said(block(cast.auditor, PROOF)) == [("Proof of the whole estate", "Old")]


def test_findings_and_proofs_of_other_sites_are_not_told(cast: Cast) -> None:
    proof(cast, site=cast.south)
    assert not block(cast.officer, PROOF).lines
    finding(cast, proof(cast), site=cast.south, is_new=True)
    assert said(block(cast.officer, PROOF)) == [("Proof of the whole estate", "As planned")]


def test_differences_stand_until_they_are_closed(cast: Cast) -> None:
    room = set_up_counts(cast)
    case = room.missing()
    (line,) = block(cast.officer, DIFFERENCES).lines
    assert line.what == f"{case.label}: Missing"
    assert block(cast.auditor, DIFFERENCES).lines
    type(case).objects.filter(pk=case.pk).update(
        state="closed",
        how="overlooked",
        note="x",
        closed_at=timezone.now(),
        closed_by=cast.officer,
        explained_at=timezone.now(),
        explained_by=cast.desk,
    )
    assert not block(cast.officer, DIFFERENCES).lines


def exposed(cast: Cast, accepts: int, near_withdrawing: int) -> Core:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    numbers = {"keys": 1, "unplanned": 0, "needed": 1, "wafers": 0, "idle_wafers": 0, "trials": 1}
    numbers |= {"blanks": 1, "near_turning": 0, "accepts": accepts, "near_withdrawing": near_withdrawing}
    CoreExposure.objects.create(core=core, pinned_at=core.pinned_at or timezone.now(), **numbers)
    return core


def test_cores_that_a_wrong_cut_would_take_out_stand_with_the_worst_first(cast: Cast) -> None:
    few, many = exposed(cast, 8, 1), exposed(cast, 64, 2)
    exposed(cast, 512, 0)
    assert [line.what for line in block(cast.officer, EXPOSED).lines] == [f"Core {many}", f"Core {few}"]


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.officer)
    for sentence in (
        "No decision waits for you.",
        "No loss is open.",
        "Nobody reports a lost key.",
        "Nobody waits to look at a secret.",
        "Nothing was ever proven: nobody knows whether every key does what the plan says.",
        "No count is due within a week.",
        "Every difference of a count is closed.",
        "No core that was assessed comes out by one wrong cut.",
    ):
        assert sentence in page


def test_the_officer_of_another_site_reads_none_of_it(cast: Cast) -> None:
    other = factories.make_user("far-officer", site=cast.south, role=Role.OFFICER)
    LossCase.objects.create(site=cast.north, number=1, opened_by=cast.officer)
    exposed(cast, 64, 2)
    set_up_counts(cast).missing()
    for question in (LOSSES, DIFFERENCES, EXPOSED):
        assert not block(other, question).lines
