"""A run beside the committed record: which ratios changed by more than chance does."""

from tests.bench.record import Measured
from tests.bench.report import Line, times

# Two ways in one run share the machine's moods; what stands beside a bound does not.
LEAST_NOISE = {"ratio": 1.3, "at most": 2.0, "at least": 2.0}


def noise(line: Line, before: list[float]) -> float:
    """By which factor a line may change without meaning anything: as far as earlier runs lie apart."""
    known = [ratio for ratio in before if ratio > 0]
    return max([LEAST_NOISE[line.kind], *([max(known) / min(known)] if known else [])])


def changed(new: Measured, old: Measured | None) -> list[str]:
    """A sentence for each line that is better or worse than in the record, new or gone."""
    if old is None:
        return [f"{new.topic}: not in the record yet"]
    was = {line.name: line for line in old.lines}
    told = [
        said
        for line in new.lines
        if (said := _said(line, was.pop(line.name, None), old.before.get(line.name, [])))
    ]
    told += [f"{name}: in the record, not in this run" for name in was]
    elsewhere = [] if new.machine == old.machine else [f"the record was made on {old.machine}"]
    return [f"{new.topic}: {said}" for said in [*elsewhere, *told]]


def _said(line: Line, was: Line | None, before: list[float]) -> str:
    if was is None:
        return f"{line.name}: not in the record yet"
    factor = line.ratio / was.ratio if was.ratio else float("inf")
    most = noise(line, [was.ratio, *before])
    if 1 / most <= factor <= most:
        return ""
    word = "better" if factor > 1 else "worse"
    beyond = f"chance explains {most:.2f} times"
    return f"{line.name}: {word}, {times(line.ratio)} after {times(was.ratio)} in the record ({beyond})"
