"""A child that reads what nobody vouches for: whatever it does, what asked it goes on and says so."""

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from keyctl.lib import confined
from keyctl.lib.confined import Bounds, WentOver, run_confined
from keyctl.lib.errors import Refused

QUICK = Bounds(memory=256 * 1024 * 1024, cpu=1, seconds=4.0, answer=1024 * 1024)


def run(name: str, content: bytes = b"", bounds: Bounds = QUICK, **facts: Any) -> Any:
    return run_confined(f"tests.hostile.misbehaving:{name}", content, bounds=bounds, **facts)


def test_the_child_has_the_bytes_and_the_facts_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "secret")
    told = run("tell", b"line\nline" * 100_000, rows=[1, {"a": None}], door="Tür")
    assert told["content"] == 900_000
    assert told["facts"] == {"rows": [1, {"a": None}], "door": "Tür"}
    assert set(told["environment"]) <= {"LC_CTYPE"}
    assert told["folder"] == "/"
    # Its input, its answer, its errors, and the folder that lists them.
    assert told["files"][:3] == [0, 1, 2]
    assert len(told["files"]) == 4
    assert told["limits"] == {"RLIMIT_CORE": [0, 0], "RLIMIT_AS": [QUICK.memory] * 2}
    assert told["loaded"] == []


def test_a_refusal_comes_back_in_its_words() -> None:
    with pytest.raises(Refused) as refused:
        run("refuse")
    assert refused.value.sentences == ["The list has no end.", "Row 7"]


@pytest.mark.parametrize(
    "name",
    [
        "eat_memory",
        "eat_memory_slowly",
        "burn",
        "answer_without_end",
        "answer_nonsense",
        "answer_no_data",
        "crash",
        "none",
    ],
)
def test_who_goes_over_or_breaks_is_ended_and_told_of_in_one_sentence(name: str) -> None:
    began = time.monotonic()
    with pytest.raises(WentOver, match="Save it anew, or send a part of it"):
        run(name)
    assert time.monotonic() - began < QUICK.seconds + 2


def test_who_sleeps_is_killed_by_the_clock() -> None:
    began = time.monotonic()
    with pytest.raises(WentOver):
        run("sleep", bounds=Bounds(seconds=0.3))
    assert time.monotonic() - began < 3


def test_a_file_cannot_grow(tmp_path: Path) -> None:
    place = tmp_path / "leak"
    assert run("write_a_file", place=str(place)) == "refused"
    assert place.stat().st_size <= QUICK.answer


def test_an_open_end_of_the_child_keeps_nobody_waiting() -> None:
    began = time.monotonic()
    with pytest.raises(WentOver):
        run("leave_a_child")
    assert time.monotonic() - began < 3


def test_nothing_is_left_open_or_running() -> None:
    def descriptors() -> set[str]:
        return {file.name for file in Path("/proc/self/fd").iterdir()}

    def children() -> set[str]:
        return {
            child for file in Path("/proc/self/task").glob("*/children") for child in file.read_text().split()
        }

    before, others = descriptors(), children()
    for name in ("tell", "crash", "refuse"):
        with pytest.raises(Refused) if name != "tell" else _nothing():
            run(name)
    assert descriptors() == before
    assert children() <= others


def test_no_more_than_two_at_once_and_who_waits_too_long_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(confined, "_free", threading.BoundedSemaphore(1))
    first = threading.Thread(target=_quietly, args=(lambda: run("sleep", bounds=Bounds(seconds=1.2)),))
    first.start()
    time.sleep(0.2)
    with pytest.raises(Refused, match="being read just now"):
        run("tell", bounds=Bounds(seconds=0.1))
    first.join()
    assert run("tell")["content"] == 0


def _quietly(act: Callable[[], Any]) -> None:
    with pytest.raises(WentOver):
        act()


class _nothing:
    def __enter__(self) -> None: ...

    def __exit__(self, *_facts: object) -> None: ...
