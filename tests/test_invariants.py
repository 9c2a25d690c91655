"""The invariants are in the database itself: each named constraint refuses what its name forbids."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction
from django.utils import timezone

from keyctl.approvals.models import KeyRequest
from keyctl.charts.models import LockChart
from keyctl.cores.models import Core, Turn
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.formats.models import KeywayFit
from keyctl.inherited.models import BittingList
from keyctl.jobs.models import Routine, WorkerSign
from keyctl.notices.models import Notice, NoticeTry
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.prints.models import Export
from keyctl.proofs.models import Acceptance, Finding, Proof
from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft
from keyctl.versions.models import SystemVersion
from tests import factories
from tests.cast import Cast
from tests.keyctl.accounts import forbidden as accounts
from tests.keyctl.approvals import forbidden as approvals
from tests.keyctl.audit import forbidden as audit
from tests.keyctl.counts import forbidden as counts
from tests.keyctl.desk import forbidden as desk
from tests.keyctl.field import forbidden as field
from tests.keyctl.field import forbidden_photos as photos
from tests.keyctl.interim import forbidden as interim
from tests.keyctl.keys import forbidden as keys
from tests.keyctl.labels import forbidden as labels
from tests.keyctl.leavers import forbidden as leavers
from tests.keyctl.losses import forbidden as losses
from tests.keyctl.orders import forbidden as orders
from tests.keyctl.reveals import forbidden as reveals
from tests.keyctl.rotations import forbidden as rotations
from tests.keyctl.vault import forbidden as vault

SMALL: dict[str, Any] = {"format_id": "small-a2-7", "construction": "small-format"}


def two_cores_in_a_housing(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    for _ in range(2):
        Core.objects.create(
            site=cast.north,
            format_id="small-a2-7",
            construction="small-format",
            place="housing",
            housing=housing,
        )


def a_core_in_two_places(cast: Cast) -> None:
    housing = factories.make_housing(cast.north)
    Core.objects.create(site=cast.north, **SMALL, place="shelf", housing=housing)


def two_cores_of_one_tag(cast: Cast) -> None:
    for _ in range(2):
        Core.objects.create(site=cast.north, **SMALL, tag="BCDF")


def pins_without_who_and_when(cast: Cast) -> None:
    Core.objects.create(site=cast.north, **SMALL, pinning=b"sealed")


def a_turn_without_effect(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    Turn.objects.create(core=core, symbol=factories.symbol(system, "AB1"), operates=False, withdraws=False)


def two_keys_of_one_bitting(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    first, second = system.symbols.filter(kind=KeySymbol.Kind.CHANGE)[:2]
    KeySymbol.objects.filter(pk=second.pk).update(fingerprint=first.fingerprint)


def a_change_key_without_a_parent(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    system.symbols.filter(kind=KeySymbol.Kind.CHANGE).update(parent=None)


def two_open_drafts_of_one_code(cast: Cast) -> None:
    first, second = (factories.make_draft(cast.north, actor=cast.locksmith) for _ in range(2))
    SystemDraft.objects.filter(pk=second.pk).update(code=first.code)


def a_made_draft_without_its_system(cast: Cast) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    SystemDraft.objects.filter(pk=draft.pk).update(made_at=timezone.now())


def seven_levels(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    KeySystem.objects.filter(pk=system.pk).update(levels=7)


def two_keys_in_one_place(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    system.symbols.filter(level=1).update(ordinal=0)


def a_request(cast: Cast, **facts: Any) -> KeyRequest:
    return KeyRequest.objects.create(
        building=factories.make_floor(cast.north).building,
        holder=factories.make_holder(cast.north),
        reason="Work",
        **facts,
    )


def a_request_decided_by_who_asked(cast: Cast) -> None:
    facts = {"state": "approved", "decided_at": timezone.now()}
    a_request(cast, requester=cast.manager, decided_by=cast.manager, **facts)


def a_request_decided_by_who_gets_the_key(cast: Cast) -> None:
    facts = {"state": "approved", "decided_at": timezone.now(), "requester": cast.requester}
    a_request(cast, holder_user=cast.manager, decided_by=cast.manager, **facts)


def a_decision_of_nobody(cast: Cast) -> None:
    a_request(cast, requester=cast.requester, state="approved")


def a_swap_line(cast: Cast, **facts: Any) -> OrderLine:
    order = WorkOrder.objects.create(
        number=1, site=cast.north, kind=WorkOrder.Kind.SWAP, title="Swap", opened_by=cast.locksmith
    )
    return OrderLine.objects.create(
        order=order, ordinal=1, housing=factories.make_housing(cast.north), **facts
    )


def a_swap_done_without_its_checks(cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, **SMALL)
    facts = {"state": "done", "done_at": timezone.now(), "done_by": cast.locksmith}
    a_swap_line(cast, core=core, **facts)


def a_core_meant_for_no_housing(cast: Cast) -> None:
    order = WorkOrder.objects.create(
        number=1, site=cast.north, kind=WorkOrder.Kind.PIN, title="Pin", opened_by=cast.locksmith
    )
    core = Core.objects.create(site=cast.north, **SMALL)
    OrderLine.objects.create(order=order, ordinal=1, core=core, meant=core)


def a_housing_waiting_for_two_swaps(cast: Cast) -> None:
    line = a_swap_line(cast)
    OrderLine.objects.create(order=line.order, ordinal=2, housing=line.housing)


def a_job_that_ended_at_no_time(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="done")


def a_job_that_failed_for_no_reason(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="failed", ended_at=timezone.now())


def a_job_that_nobody_runs(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="running")


def two_job_files_of_one_name(cast: Cast) -> None:
    job = factories.make_job(cast.north, actor=cast.locksmith)
    for _ in range(2):
        factories.make_job_file(job)


def two_signs_of_one_worker(cast: Cast) -> None:
    for _ in range(2):
        WorkerSign.objects.create(name="host:1", seen_at=timezone.now())


def a_routine_kept_twice(cast: Cast) -> None:
    for _ in range(2):
        Routine.objects.create(name="sweep", next_at=timezone.now())


def a_job_about_a_thing_twice(cast: Cast) -> None:
    job = factories.make_job(cast.north, actor=cast.locksmith)
    for _ in range(2):
        job.subjects.create(kind="places.site", subject_id=cast.north.pk)


def a_blank(cast: Cast, **facts: Any) -> None:
    row = {"blank_keyway": "THIN", "core_keyway": "WIDE", "reason": "Tried", "made_by": cast.locksmith}
    KeywayFit.objects.create(**row | facts)


def a_blank_told_twice(cast: Cast) -> None:
    for _ in range(2):
        a_blank(cast)


def an_export(cast: Cast, **facts: Any) -> Export:
    facts = {"reason": "Deposit", "kind": "bitting-list", "form": "pdf", "actor": cast.officer, **facts}
    system = factories.make_system(cast.north, actor=cast.administrator)
    return Export.objects.create(system=system, site=cast.north, **facts)


def two_exports_of_one_number(cast: Cast) -> None:
    for _ in range(2):
        an_export(cast, number="BCDF")


def an_export_without_a_reason(cast: Cast) -> None:
    an_export(cast, reason="")


def an_export_made_at_no_time(cast: Cast) -> None:
    an_export(cast, rows=3)


def a_version(cast: Cast, number: int = 1, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    row = {
        "system": system,
        "number": number,
        "occasion": "by-hand",
        "made_by": cast.locksmith,
        "why": "Works",
    }
    for _ in range(times):
        SystemVersion.objects.create(**(row | {"keys": 1, "cores": 1, "content": b"x"} | facts))


def two_versions_of_one_number(cast: Cast) -> None:
    a_version(cast, times=2)


def a_version_numbered_nought(cast: Cast) -> None:
    a_version(cast, number=0)


def a_version_taken_by_nobody(cast: Cast) -> None:
    a_version(cast, made_by=None)


COUNTED: dict[str, Any] = {
    "format_id": "small-a2-7",
    "keyway": "W1",
    "line": "operating",
    "cores": 1,
    "keys": 1,
    "pinned_until": timezone.now(),
    "number": 1,
    "low": 1,
    "high": 1,
}


def a_core_with_more_idle_wafers_than_wafers(cast: Cast) -> None:
    core = Core.objects.create(site=cast.north, **SMALL)
    figures = ["keys", "accepts", "unplanned", "needed", "trials", "blanks"]
    figures += ["near_turning", "near_withdrawing"]
    CoreExposure.objects.create(
        core=core, pinned_at=timezone.now(), wafers=1, idle_wafers=2, **dict.fromkeys(figures, 0)
    )


def a_keyway_counted_twice(cast: Cast) -> None:
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED)


def a_site_counted_twice(cast: Cast) -> None:
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED, site=cast.north)


def a_system_counted_twice(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    for _ in range(2):
        IncidentalCount.objects.create(**COUNTED, system=system)


def a_count_of_two_scopes(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    IncidentalCount.objects.create(**COUNTED, site=cast.north, system=system)


def a_count_outside_its_interval(cast: Cast) -> None:
    IncidentalCount.objects.create(**(COUNTED | {"number": 3}))


def a_proof(cast: Cast, **facts: Any) -> Proof:
    return Proof.objects.create(asked_by=cast.officer, **facts)


def a_proof_of_a_site_and_a_system(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    a_proof(cast, site=cast.north, system=system)


def a_proof_finished_before_it_was_asked_for(cast: Cast) -> None:
    a_proof(cast, finished_at=timezone.now() - timedelta(hours=1))


def a_finding(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    row = {"core": core, "symbol": factories.change_key(system), "site": cast.north, "is_foreign": False}
    row |= {"pinned_at": timezone.now(), "kind": "does-not-turn", "cause": "unknown", "words": "Not known."}
    proof = a_proof(cast)
    for _ in range(times):
        Finding.objects.create(proof=proof, **row | facts)


def an_acceptance(cast: Cast, times: int = 1, **facts: Any) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    row = {"core": core, "symbol": factories.change_key(system), "kind": "does-not-turn", "reason": "Known"}
    today = timezone.localdate()
    row |= {"pinned_at": core.pinned_at, "accepted_by": cast.officer, "accepted_on": today, "until": today}
    for _ in range(times):
        Acceptance.objects.create(**row | facts)


def a_bitting_list(cast: Cast, **facts: Any) -> None:
    facts = {"code": "OLD", "format_id": "small-a2-7", "keyway": "W", "content": b"sealed"} | facts
    BittingList.objects.create(site=cast.north, name="list.csv", uploaded_by=cast.locksmith, **facts)


def a_lock_chart(cast: Cast, **facts: Any) -> None:
    facts = {"format_id": "fixed-6", "keyway": "W", "kept": b"sealed", "name": "House"} | facts
    LockChart.objects.create(site=cast.north, created_by=cast.locksmith, **facts)


def a_notice(cast: Cast, times: int = 1, **facts: Any) -> None:
    facts = {"kind": "test", "to": "ann@example.org", "subject": "Test", "body": "Test"} | facts
    for _ in range(times):
        Notice.objects.create(site=cast.north, **facts)


def a_notice_about_a_thing_twice(cast: Cast) -> None:
    a_notice(cast)
    for _ in range(2):
        Notice.objects.get().subjects.create(kind="places.site", subject_id=cast.north.pk)


def a_try_without_an_outcome(cast: Cast) -> None:
    a_notice(cast)
    NoticeTry.objects.create(notice=Notice.objects.get())


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    **accounts.FORBIDDEN,
    **audit.FORBIDDEN,
    **counts.FORBIDDEN,
    **interim.FORBIDDEN,
    **labels.FORBIDDEN,
    **vault.FORBIDDEN,
    **leavers.FORBIDDEN,
    **losses.FORBIDDEN,
    **orders.FORBIDDEN,
    **reveals.FORBIDDEN,
    **rotations.FORBIDDEN,
    **keys.FORBIDDEN,
    **desk.FORBIDDEN,
    **field.FORBIDDEN,
    **photos.FORBIDDEN,
    "housing_holds_at_most_one_core": two_cores_in_a_housing,
    "core_is_in_exactly_one_place": a_core_in_two_places,
    "version_number_is_unique_in_its_system": two_versions_of_one_number,
    "version_numbers_begin_at_one": a_version_numbered_nought,
    "version_taken_by_hand_says_by_whom": a_version_taken_by_nobody,
    "core_tag_is_unique": two_cores_of_one_tag,
    "core_pinning_says_who_and_when": pins_without_who_and_when,
    "turn_has_an_effect": a_turn_without_effect,
    "key_symbol_has_its_own_bitting": two_keys_of_one_bitting,
    "open_draft_has_its_own_code": two_open_drafts_of_one_code,
    "made_draft_has_its_system": a_made_draft_without_its_system,
    "key_system_has_one_to_six_levels": seven_levels,
    "key_symbol_has_its_own_place_under_its_parent": two_keys_in_one_place,
    "key_symbol_stands_in_the_tree": a_change_key_without_a_parent,
    "nobody_decides_their_own_request": a_request_decided_by_who_asked,
    "nobody_decides_a_key_for_themselves": a_request_decided_by_who_gets_the_key,
    "key_request_decision_says_who_and_when": a_decision_of_nobody,
    "swap_is_done_only_with_its_checks": a_swap_done_without_its_checks,
    "core_is_meant_for_a_housing": a_core_meant_for_no_housing,
    "housing_has_at_most_one_open_swap": a_housing_waiting_for_two_swaps,
    "core_exposure_is_part_of_the_whole": a_core_with_more_idle_wafers_than_wafers,
    "incidental_count_of_a_keyway_is_kept_once": a_keyway_counted_twice,
    "incidental_count_of_a_site_is_kept_once": a_site_counted_twice,
    "incidental_count_of_a_system_is_kept_once": a_system_counted_twice,
    "incidental_count_has_one_scope": a_count_of_two_scopes,
    "incidental_count_lies_in_its_interval": a_count_outside_its_interval,
    "export_number_is_unique": two_exports_of_one_number,
    "export_has_a_reason": an_export_without_a_reason,
    "export_that_is_made_says_when_and_what": an_export_made_at_no_time,
    "job_that_ended_says_when": a_job_that_ended_at_no_time,
    "job_that_failed_says_why": a_job_that_failed_for_no_reason,
    "job_is_run_by_one_run": a_job_that_nobody_runs,
    "job_file_name_is_unique_in_its_job": two_job_files_of_one_name,
    "worker_sign_is_of_one_worker": two_signs_of_one_worker,
    "routine_is_kept_once": a_routine_kept_twice,
    "notice_is_written_once": lambda cast: a_notice(cast, times=2, once_key="due"),
    "notice_that_is_sent_says_when": lambda cast: a_notice(cast, state="sent"),
    "notice_goes_to_somebody": lambda cast: a_notice(cast, to=""),
    "notice_that_failed_says_why": lambda cast: a_notice(cast, state="failed"),
    "notice_attachment_is_named": lambda cast: a_notice(cast, attachment_kind="receipt"),
    "notice_names_a_subject_once": a_notice_about_a_thing_twice,
    "notice_try_has_an_outcome": a_try_without_an_outcome,
    "job_names_a_subject_once": a_job_about_a_thing_twice,
    "keyway_fit_is_told_once": a_blank_told_twice,
    "proof_is_of_a_site_or_of_a_system": a_proof_of_a_site_and_a_system,
    "proof_is_finished_after_it_was_asked_for": a_proof_finished_before_it_was_asked_for,
    "finding_is_told_once_in_a_proof": lambda cast: a_finding(cast, times=2),
    "finding_says_its_cause": lambda cast: a_finding(cast, words=""),
    "finding_is_accepted_once_until_a_day": lambda cast: an_acceptance(cast, times=2),
    "acceptance_says_why": lambda cast: an_acceptance(cast, reason=""),
    "acceptance_ends_after_it_began": lambda cast: an_acceptance(
        cast, until=timezone.localdate() - timedelta(days=1)
    ),
    "acceptance_that_was_ended_says_by_whom": lambda cast: an_acceptance(cast, ended_at=timezone.now()),
    "bitting_list_is_deleted_when_it_ends": lambda cast: a_bitting_list(cast, state="left"),
    "bitting_list_is_checked_before_it_is_written": lambda cast: a_bitting_list(cast, state="writing"),
    "lock_chart_holds_an_answer_once_solved": lambda cast: a_lock_chart(cast, state="solved"),
    "lock_chart_names_the_system_made_of_it": lambda cast: a_lock_chart(cast, state="used", answer=b"sealed"),
    "bitting_list_names_its_system": lambda cast: a_bitting_list(cast, code=""),
    "keyway_fit_is_between_two_keyways": lambda cast: a_blank(cast, blank_keyway="WIDE"),
    "keyway_fit_names_both_and_why": lambda cast: a_blank(cast, reason=""),
    **approvals.FORBIDDEN,
}


@pytest.mark.parametrize("name", sorted(FORBIDDEN))
def test_the_database_refuses_it(name: str, cast: Cast) -> None:
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        FORBIDDEN[name](cast)
    assert name in str(refused.value) or names_its_columns(name, str(refused.value))


def names_its_columns(name: str, message: str) -> bool:
    """SQLite names the columns of a broken unique constraint where PostgreSQL names the constraint."""
    found = next(
        (model, constraint)
        for model in apps.get_models()
        for constraint in model._meta.constraints
        if constraint.name == name
    )
    model, constraint = found
    if not isinstance(constraint, models.UniqueConstraint):
        return False
    columns = [column for field in constraint.fields for column in columns_of(model, field)]
    return all(f"{model._meta.db_table}.{column}" in message for column in columns)


def columns_of(model: type[models.Model], name: str) -> list[str]:
    return [str(field.column) for field in model._meta.concrete_fields if field.name == name]


def test_every_constraint_has_a_name_that_says_what_it_keeps() -> None:
    ours = [model for model in apps.get_models() if model.__module__.startswith("keyctl.")]
    names = [constraint.name for model in ours for constraint in model._meta.constraints]
    assert len(names) > 40
    assert [name for name in names if name.count("_") < 2] == []
