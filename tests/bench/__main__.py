"""``python -m tests.bench [topic ...]``: every figure that was asked for, measured in one run.

Prints each line at once; leaves JSON, a drawing and a table; sets each ratio beside the committed record.
It ends with 1 only where a topic could not be measured: no time and no ratio fails it.
"""

import argparse
import sys
import time
from pathlib import Path

from tests.bench import compared, drawing, table
from tests.bench.machine import load, machine, postgresql, versions
from tests.bench.record import FOLDER, Measured, keep_measured, read_record, read_topic
from tests.bench.topics import POSTGRESQL, ROOT, expected_s, modules, run_apart, topics, unknown


def main(words: list[str]) -> int:
    asked = _parser().parse_args(words)
    if asked.draw:
        draw_record()
        return 0
    if names := unknown(asked.topics):
        _say(f"no topic {', '.join(names)}; there are {', '.join(modules())}")
        return 2
    folder = asked.json.with_suffix("")
    folder.mkdir(parents=True, exist_ok=True)
    wanted = _possible(_begin(asked.topics or topics(), folder, is_going_on=asked.go_on))
    failed = _run(wanted, folder, asked)
    _close(read_record(folder), asked)
    for topic in failed:
        _say(f"{topic} could NOT be measured; see above")
    return 1 if failed else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("topics", nargs="*", help="all by default; NAME@postgresql for the other database")
    parser.add_argument("--json", type=Path, default=ROOT / ".data" / "measurements.json")
    parser.add_argument("--keep", action="store_true", help="renew the committed record and its drawing")
    parser.add_argument("--draw", action="store_true", help="only draw the committed record anew")
    parser.add_argument("--go-on", action="store_true", help="leave out what the run before has measured")
    parser.add_argument(
        "--quick", action="store_true", help="small sizes: tries the topics, measures nothing"
    )
    parser.add_argument("--seed", type=int, default=1)
    return parser


def _begin(wanted: list[str], folder: Path, *, is_going_on: bool) -> list[str]:
    """What is left to measure."""
    if is_going_on:
        return [topic for topic in wanted if not (folder / f"{topic}.json").exists()]
    for file in folder.glob("*.json"):
        file.unlink()
    return wanted


def _possible(wanted: list[str]) -> list[str]:
    absent = [] if postgresql() else [topic for topic in wanted if topic.endswith(POSTGRESQL)]
    if absent:
        _say(f"No PostgreSQL server is installed here: left out are {', '.join(absent)}.")
    return [topic for topic in wanted if topic not in absent]


def _run(wanted: list[str], folder: Path, asked: argparse.Namespace) -> list[str]:
    """The topics that failed."""
    failed, left = list[str](), sum(map(expected_s, wanted))
    _say(f"{machine()}; load {load()}; {', '.join(f'{name} {of}' for name, of in versions().items())}")
    _say(f"seed {asked.seed}; {len(wanted)} topics, some {left / 60:.0f} minutes")
    _say("columns: ours, the other way or the bound, how many times as good")
    if asked.quick:
        _say("QUICK: small sizes, no figures. Nothing here is compared or kept.")
    for nth, topic in enumerate(wanted, 1):
        _say(f"\n== {topic} ({nth} of {len(wanted)}; some {max(left, 60) / 60:.0f} min left)")
        new = run_apart(topic, folder / f"{topic}.json", asked.seed, is_quick=asked.quick)
        left -= expected_s(topic)
        if new is None:
            failed.append(topic)
        elif not asked.quick:
            for said in compared.changed(new, read_topic(topic, FOLDER)):
                _say(f"beside the record: {said}")
    return failed


def _close(found: dict[str, Measured], asked: argparse.Namespace) -> None:
    began = time.strftime("%Y-%m-%d %H:%M", time.gmtime())
    asked.json.write_text(table.as_json(found, began, is_quick=asked.quick), encoding="utf-8")
    if asked.quick:
        return
    if asked.keep:
        for each in found.values():
            keep_measured(each)
    if not asked.topics:
        found = _completed(found)
    _say(f"\n{table.in_words(found)}")
    drawing.draw(found, asked.json.with_suffix(".svg"))
    table.write(found, asked.json.with_suffix(".md"))
    _say(f"written: {asked.json}, and .svg and .md beside it")
    if asked.keep:
        draw_record()


def _completed(found: dict[str, Measured]) -> dict[str, Measured]:
    """A whole report has what takes hours too, as it was measured when the record was made."""
    rest = {topic: each for topic, each in read_record().items() if topic not in found}
    told = ", ".join(f"{topic} of {each.day}" for topic, each in rest.items())
    _say(f"\nnot in this run, from the record: {told or 'nothing'}")
    return dict(sorted((rest | found).items()))


def draw_record() -> None:
    found = read_record()
    drawing.draw(found, FOLDER / "report.svg")
    table.write(found, FOLDER / "README.md")
    _say(f"drawn: {FOLDER}")


def _say(text: str) -> None:
    print(text, flush=True)  # noqa: T201


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        _say("\nBroken off. What is measured is kept: `--go-on` measures the rest.")
        sys.exit(130)
