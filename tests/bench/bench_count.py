"""Counting the legal bittings against listing them, and finding one by its rank against walking to it."""

from itertools import islice, pairwise, product

from pinning import (
    Rules,
    count_by_rules,
    count_in_columns,
    load,
    parse_bitting,
    parse_format,
    progress,
    to_mapping,
)
from tests.bench.report import Report, best_of


def run(report: Report) -> None:
    _against_listing(report, 6, 7, 10_000)
    _against_rules(report)
    _against_walking(report)


def _against_listing(report: Report, positions: int, macs: int, wanted: float) -> None:
    """All bittings of ten depths within the limit; ours is repeated, for one count is too short to time."""
    rounds = 1_000
    ours, counts = best_of(
        3, lambda: [count_by_rules(positions, range(10), Rules(macs=macs)) for _ in range(rounds)]
    )
    theirs, listed = best_of(
        1, lambda: sum(_keeps(cuts, macs) for cuts in product(range(10), repeat=positions))
    )
    assert counts[0] == listed == 753_754
    report.ratio(
        f"count, {positions} positions, 10 depths, limit {macs}, vs listing", ours / rounds, theirs, wanted
    )


def _keeps(cuts: tuple[int, ...], macs: int) -> bool:
    return all(abs(a - b) <= macs for a, b in pairwise(cuts))


def _against_rules(report: Report) -> None:
    """The same with further rules, where states must be told apart: said plainly, listing is not far off."""
    rules = Rules(macs=7, max_equal=3, max_run=2, min_distinct=3, min_span=3)
    ours, count = best_of(2, lambda: count_by_rules(6, range(10), rules))
    theirs, listed = best_of(1, lambda: sum(map(_keeps_all, product(range(10), repeat=6))))
    assert count == listed == 714_984
    report.ratio("count under every rule, 6 positions, vs listing", ours, theirs, 5)


def _keeps_all(cuts: tuple[int, ...]) -> bool:
    return (
        _keeps(cuts, 7)
        and max(map(cuts.count, cuts)) <= 3
        and not any(a == b == c for a, b, c in zip(cuts, cuts[1:], cuts[2:], strict=False))
        and len(set(cuts)) >= 3
        and max(cuts) - min(cuts) >= 3
    )


def _against_walking(report: Report) -> None:
    format = parse_format(to_mapping(load("fixed-6")) | {"step": 1, "macs": 7})
    keys = progress(format, parse_bitting(format, "143254"))
    rank = count_in_columns(keys.columns, keys.limits) // 2
    ours, found = best_of(3, lambda: keys.nth_usable(rank))
    theirs, walked = best_of(1, lambda: next(islice(keys.usable(), rank, None)))
    assert found == walked
    report.ratio(f"usable bitting number {rank:,} by rank, vs walking", ours, theirs, 100)
