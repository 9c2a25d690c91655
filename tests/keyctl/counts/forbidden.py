"""What the database itself refuses of counts; tried one by one in the tests of the invariants."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.counts.models import (
    CabinetHandover,
    Count,
    CountCase,
    CountExpected,
    CountRule,
    CountScan,
    EvidenceReport,
)
from keyctl.keys.models import Cabinet, KeyCopy
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system

FIGURES = {"expected_count": 1, "sighted_count": 1, "difference_count": 0, "law_breaches": 0}


def a_rule(cast: Cast, times: int = 1, **facts: Any) -> None:
    facts = {"subject": "cabinets", "number": 1, "interval_months": 12, "retention_days": 365} | facts
    facts = {"source": "House rule", "made_by": cast.officer} | facts
    for _ in range(times):
        CountRule.objects.create(site=cast.north, **facts)


def a_cabinet(cast: Cast) -> Cabinet:
    return factories.make_cabinet(cast.north)


def a_count(cast: Cast, **facts: Any) -> Count:
    if "scope" not in facts:
        facts = {"scope": "cabinet", "cabinet": a_cabinet(cast)} | facts
    facts.setdefault("number", Count.objects.count() + 1)
    return Count.objects.create(site=cast.north, reason="hand", **facts)


def running(cast: Cast, **facts: Any) -> Count:
    now = timezone.now()
    return a_count(cast, **{"state": "running", "counter": cast.desk, "started_at": now} | facts)


def closed(cast: Cast, **facts: Any) -> Count:
    ended = {"state": "closed", "ended_at": timezone.now(), "ended_by": cast.desk}
    return running(cast, **ended | FIGURES | facts)


def two_open(cast: Cast, **facts: Any) -> None:
    a_count(cast, **facts)
    a_count(cast, **facts)


def a_copy(cast: Cast) -> KeyCopy:
    symbol = bare_key(bare_system(cast.north, actor=cast.administrator), "AA1")
    return factories.make_copy(symbol, a_cabinet(cast))


def a_copy_expected_twice(cast: Cast) -> None:
    count, copy = running(cast), a_copy(cast)
    for _ in range(2):
        CountExpected.objects.create(count=count, copy=copy, copy_version=1)


def a_scan(cast: Cast, times: int = 1, **facts: Any) -> None:
    count = running(cast)
    for _ in range(times):
        CountScan.objects.create(count=count, by=cast.desk, **{"serial": "BCDF"} | facts)


def a_case(cast: Cast, times: int = 1, **facts: Any) -> None:
    count = closed(cast)
    facts = {"kind": "unknown", "serial": "BCDF", "counted_by": cast.desk} | facts
    for _ in range(times):
        CountCase.objects.create(count=count, **facts)


def closed_case(cast: Cast, **facts: Any) -> None:
    now = timezone.now()
    explained: dict[str, Any] = {"how": "not-ours", "explained_at": now, "explained_by": cast.desk}
    a_case(cast, **explained | {"state": "closed", "closed_at": now, "closed_by": cast.desk} | facts)


def a_handover(cast: Cast, **facts: Any) -> None:
    cabinet = a_cabinet(cast)
    facts = {"giver": cast.desk, "taker": cast.locksmith, "made_by": cast.administrator} | facts
    CabinetHandover.objects.create(cabinet=cabinet, count=closed(cast, cabinet=cabinet), **facts)


def a_report(cast: Cast, times: int = 1, **facts: Any) -> None:
    facts = {"from_on": "2031-01-01", "until_on": "2031-12-31", "number": "BCDF"} | facts
    for _ in range(times):
        EvidenceReport.objects.create(site=cast.north, actor=cast.auditor, **facts)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "count_rule_version_is_numbered_once": lambda cast: a_rule(cast, times=2),
    "count_rule_counts_within_five_years": lambda cast: a_rule(cast, interval_months=61),
    "count_rule_names_its_source": lambda cast: a_rule(cast, source=""),
    "only_cabinets_have_custodians_to_change": lambda cast: a_rule(
        cast, subject="holders", on_new_custodian=True
    ),
    "issuing_waits_only_for_a_forced_count": lambda cast: a_rule(cast, blocks_issuing=True),
    "count_number_is_unique_in_its_site": lambda cast: two_open(cast, number=1),
    "cabinet_has_one_open_count": lambda cast: two_open(cast, scope="cabinet", cabinet=a_cabinet(cast)),
    "holder_has_one_open_count": lambda cast: two_open(
        cast, scope="holder", holder=factories.make_holder(cast.north)
    ),
    "keys_by_serial_have_one_open_count": lambda cast: two_open(cast, scope="keys", subject="masters"),
    "count_says_what_it_counts": lambda cast: a_count(cast, scope="cabinet"),
    "count_that_runs_says_who_and_since_when": lambda cast: a_count(cast, state="running"),
    "count_that_ended_says_who_and_when": lambda cast: running(cast, ended_at=timezone.now()),
    "count_that_is_closed_has_its_figures": lambda cast: closed(cast, law_breaches=None),
    "nobody_witnesses_their_own_count": lambda cast: running(cast, witness=cast.desk),
    "count_closes_with_the_witness_it_needs": lambda cast: closed(cast, needs_witness=True),
    "count_that_was_witnessed_says_by_whom": lambda cast: running(cast, witnessed_at=timezone.now()),
    "count_expects_a_copy_once": a_copy_expected_twice,
    "count_takes_a_serial_once": lambda cast: a_scan(cast, times=2),
    "count_scan_has_a_serial": lambda cast: a_scan(cast, serial=""),
    "count_differs_about_a_serial_once": lambda cast: a_case(cast, times=2),
    "count_case_explanation_says_how_and_by_whom": lambda cast: a_case(cast, state="explained"),
    "count_case_closing_says_who_and_when": lambda cast: closed_case(cast, closed_by=None),
    "who_counted_does_not_close_a_weighty_case": lambda cast: closed_case(cast, is_weighty=True),
    "count_case_names_a_copy_that_is_known": lambda cast: a_case(cast, kind="missing"),
    "cabinet_is_handed_over_to_somebody_else": lambda cast: a_handover(cast, taker=cast.desk),
    "cabinet_handover_excuse_says_who_and_why": lambda cast: a_handover(cast, excused_by=cast.officer),
    "cabinet_handover_ends_signed_by_both": lambda cast: a_handover(cast, done_at=timezone.now()),
    "evidence_report_number_is_unique": lambda cast: a_report(cast, times=2),
    "evidence_report_ends_after_it_begins": lambda cast: a_report(cast, until_on="2030-12-31"),
}
