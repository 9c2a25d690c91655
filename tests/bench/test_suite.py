"""What the suite does with its topics: it compares, goes on, and fails by no time."""

from pathlib import Path

import pytest

from tests.bench import __main__ as suite
from tests.bench.compared import changed
from tests.bench.record import Measured, keep_measured, measured, read_record, read_topic
from tests.bench.report import Line, Report


def ran(topic: str, *lines: Line) -> Measured:
    return measured(topic, Report(list(lines)), seconds=1.0, seed=1)


def of(ratio: float) -> Line:
    return Line("searching", "ratio", ours=1.0, other=ratio, wanted=2.0)


@pytest.mark.parametrize(
    ("line", "ratio", "is_met"),
    [
        (Line("a", "ratio", ours=1, other=50, wanted=100), 50, False),
        (Line("a", "at most", ours=2, other=3), 1.5, True),
        (Line("a", "at least", ours=2, other=3), 2 / 3, False),
        (Line("a", "at most", ours=0, other=0), 1, True),
        (Line("a", "at most", ours=4, other=0), 0, False),
        (Line("a", "at most", ours=0, other=5), 1, True),
        (Line("a", "ratio", ours=5, other=1, wanted=0), 0.2, True),
    ],
)
def test_a_line_is_met_from_what_was_wanted_on(line: Line, ratio: float, is_met: bool) -> None:
    assert line.ratio == pytest.approx(ratio)
    assert line.is_met is is_met


def test_two_lines_of_one_name_are_refused() -> None:
    report = Report()
    report.at_most("memory", 5, 10, "MiB")
    with pytest.raises(ValueError, match="two lines are called 'memory'"):
        report.at_most("memory", 5, 10, "MiB")


def test_what_is_kept_is_read_again(tmp_path: Path) -> None:
    new = ran("letters", of(4.0), Line("size", "at most", 1234.5, 2048.0, unit="MiB", remark="“ä”"))
    keep_measured(new, tmp_path)
    assert read_record(tmp_path) == {"letters": new}


def test_the_record_keeps_some_ratios_of_before(tmp_path: Path) -> None:
    for ratio in (1.0, 2.0, 3.0, 4.0, 5.0, 6.0):
        keep_measured(ran("letters", of(ratio)), tmp_path)
    kept = read_topic("letters", tmp_path)
    assert kept is not None
    assert kept.before == {"searching": [5.0, 4.0, 3.0, 2.0]}


def test_what_chance_explains_is_not_told(tmp_path: Path) -> None:
    keep_measured(ran("letters", of(4.0)), tmp_path)
    assert changed(ran("letters", of(5.0)), read_topic("letters", tmp_path)) == []
    (told,) = changed(ran("letters", of(2.0)), read_topic("letters", tmp_path))
    assert "worse, 2x after 4x" in told
    # Once it came out so, it may again.
    keep_measured(ran("letters", of(2.0)), tmp_path)
    assert changed(ran("letters", of(4.0)), read_topic("letters", tmp_path)) == []


def test_lines_that_are_new_or_gone_are_told(tmp_path: Path) -> None:
    old = ran("letters", of(4.0))
    new = ran("letters", Line("sorting", "ratio", 1, 1))
    assert changed(new, old) == [
        "letters: sorting: not in the record yet",
        "letters: searching: in the record, not in this run",
    ]


@pytest.fixture
def topics(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Two topics that need no time: one far below what is wanted, one that breaks if its name says so."""
    asked = list[str]()

    def run_apart(topic: str, file: Path, seed: int, *, is_quick: bool) -> Measured | None:
        asked.append(topic)
        if topic == "archive":
            return None
        found = ran(topic, of(0.001))
        file.write_text(found.as_text(), encoding="utf-8")
        return found

    monkeypatch.setattr(suite, "run_apart", run_apart)
    return asked


def test_no_ratio_fails_a_run_and_a_broken_topic_does(topics: list[str], tmp_path: Path) -> None:
    assert suite.main(["--json", f"{tmp_path}/run.json", "audit"]) == 0
    assert suite.main(["--json", f"{tmp_path}/run.json", "archive", "audit"]) == 1
    assert {"run.json", "run.svg", "run.md"} <= {file.name for file in tmp_path.iterdir()}


def test_a_run_that_was_broken_off_goes_on(topics: list[str], tmp_path: Path) -> None:
    suite.main(["--json", f"{tmp_path}/run.json", "audit", "archive"])
    topics.clear()
    suite.main(["--json", f"{tmp_path}/run.json", "--go-on", "audit", "archive", "count"])
    assert topics == ["archive", "count"]


def test_what_wants_a_server_that_is_not_there_is_left_out_and_told(
    topics: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(suite, "postgresql", lambda: "")
    assert suite.main(["--json", f"{tmp_path}/run.json", "swaps@postgresql", "count"]) == 0
    assert topics == ["count"]
    assert "No PostgreSQL server is installed here: left out are swaps@postgresql." in capsys.readouterr().out


def test_a_topic_that_is_none_is_named(topics: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert suite.main(["audits"]) == 2
    assert "no topic audits; there are " in capsys.readouterr().out
    assert topics == []
