"""The gate before SQLite's one writer: in order, one at a time, between processes too, never left shut."""

import os
import statistics
import subprocess
import sys
import threading
from pathlib import Path
from time import monotonic, sleep

import pytest
from django.db import OperationalError, connection, connections, transaction

from keyctl.accounts.models import User
from keyctl.lib.gate import Gate, GateClosed, gate_for

AT_ONCE = 8


@pytest.fixture
def gate(tmp_path: Path) -> Gate:
    return Gate(tmp_path / "estate.gate")


def in_threads(count: int, work: "list[threading.Thread]") -> None:
    for thread in work[:count]:
        thread.start()
    for thread in work:
        thread.join(30)
        assert not thread.is_alive()


def test_whoever_came_first_goes_first(gate: Gate) -> None:
    order: list[int] = []

    def write(nth: int) -> None:
        gate.enter(20)
        order.append(nth)
        gate.leave()

    gate.enter(1)
    threads = [threading.Thread(target=write, args=(nth,)) for nth in range(AT_ONCE)]
    for nth, thread in enumerate(threads, 1):
        thread.start()
        while len(gate._waiting) < nth:  # the next comes when this one stands in the queue
            sleep(0.001)
    gate.leave()
    in_threads(0, threads)
    assert order == list(range(AT_ONCE))


def test_one_at_a_time(gate: Gate) -> None:
    inside, most = [], []

    def write() -> None:
        for _ in range(50):
            gate.enter(20)
            inside.append(1)
            most.append(len(inside))
            inside.pop()
            gate.leave()

    threads = [threading.Thread(target=write) for _ in range(AT_ONCE)]
    in_threads(AT_ONCE, threads)
    assert (len(most), max(most)) == (AT_ONCE * 50, 1)


def test_who_gives_up_leaves_the_queue(gate: Gate) -> None:
    gate.enter(1)
    with pytest.raises(GateClosed, match="try again"):
        gate.enter(0.02)
    gate.leave()
    gate.enter(0.02)
    gate.leave()


def test_another_process_waits_too(gate: Gate, tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from keyctl.lib.gate import Gate\n"
        "Gate(Path(sys.argv[1])).enter(20); print('in', flush=True); sys.stdin.read()"
    )
    other = subprocess.Popen(  # noqa: S603 (its own Python, no shell)
        [sys.executable, "-c", program, str(tmp_path / "estate.gate")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert other.stdin is not None
    assert other.stdout is not None
    assert other.stdout.readline() == b"in\n"
    with pytest.raises(GateClosed, match="Another process is writing"):
        gate.enter(0.05)
    other.kill()  # a process that dies takes its lock with it
    other.wait()
    gate.enter(5)
    gate.leave()
    other.stdin.close()
    other.stdout.close()


ROW_AFTER_ROW = """
import mmap, sys, time
from pathlib import Path
from keyctl.lib.gate import Gate
gate = Gate(Path(sys.argv[1]))
with open(sys.argv[2], "r+b") as file:
    turns = mmap.mmap(file.fileno(), 8)
for nth in range(1, 1_000_000):
    gate.enter(20)
    turns[:] = nth.to_bytes(8, "little")
    time.sleep(0.0005)
    gate.leave()
    if nth == 1:
        print("in", flush=True)
"""


def test_who_comes_back_at_once_overtakes_nobody_of_another_process(gate: Gate, tmp_path: Path) -> None:
    """A worker writes row after row; a page gets its turn after a row or two, not after all of them."""
    counter = tmp_path / "turns"
    counter.write_bytes(bytes(8))
    arguments = [sys.executable, "-c", ROW_AFTER_ROW, str(tmp_path / "estate.gate"), str(counter)]
    other = subprocess.Popen(arguments, stdout=subprocess.PIPE)  # noqa: S603 (its own Python, no shell)
    assert other.stdout is not None
    assert other.stdout.readline() == b"in\n"
    overtaken = []
    for _ in range(20):
        before = int.from_bytes(counter.read_bytes(), "little")
        gate.enter(20)
        overtaken.append(int.from_bytes(counter.read_bytes(), "little") - before)
        gate.leave()
        sleep(0.002)  # the other goes on meanwhile
    other.kill()
    other.wait()
    other.stdout.close()
    assert statistics.median(overtaken) <= 2


def test_a_forked_child_queues_for_itself(tmp_path: Path) -> None:
    database = tmp_path / "estate"
    parents = gate_for(database)
    parents.enter(1)
    child = os.fork()
    if child == 0:
        try:
            gate_for(database).enter(0.05)
        except GateClosed:
            os._exit(7)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
    parents.leave()


def test_a_file_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    with pytest.raises(GateClosed, match=r"nowhere/x\.gate cannot be opened"):
        Gate(tmp_path / "nowhere" / "x.gate").enter(1)


on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL lets many write")


@on_sqlite
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("ending", ["commit", "rollback", "close"])
def test_a_transaction_hands_it_on_however_it_ends(ending: str) -> None:
    gate = gate_for(Path(connection.settings_dict["NAME"]))

    def end() -> None:
        if ending == "rollback":
            raise LookupError
        if ending == "close":
            connection.close()

    try:
        with transaction.atomic():
            with pytest.raises(GateClosed):
                gate.enter(0.01)
            end()
    except LookupError:
        pass
    gate.enter(0.01)
    gate.leave()


@on_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_writer_who_waits_too_long_hears_that_nothing_changed() -> None:
    heard: list[str] = []

    def write() -> None:
        mine = connections["default"]
        mine.settings_dict = {
            **mine.settings_dict,
            "OPTIONS": {**mine.settings_dict["OPTIONS"], "timeout": 0.05},
        }
        try:
            with transaction.atomic():
                pass
        except OperationalError as error:
            heard.append(str(error))
        finally:
            mine.close()

    with transaction.atomic():
        began = monotonic()
        thread = threading.Thread(target=write)
        thread.start()
        thread.join(10)
    assert heard == ["Others were writing all the time. Nothing was changed; try again."]
    assert monotonic() - began < 5


@on_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_statement_that_writes_by_itself_queues_too() -> None:
    """Outside of a transaction SQLite makes one for it, which would overtake those that wait."""
    gate, heard = gate_for(Path(connection.settings_dict["NAME"])), []

    def write() -> None:
        User.objects.filter(username="nobody").update(display_name="Nobody")
        heard.append("written")
        connections["default"].close()

    gate.enter(1)
    writer = threading.Thread(target=write)
    writer.start()
    while not gate._waiting:
        sleep(0.001)
    assert User.objects.count() == 0  # who only reads does not queue
    assert heard == []
    gate.leave()
    in_threads(0, [writer])
    assert heard == ["written"]
    gate.enter(0.01)
    gate.leave()
