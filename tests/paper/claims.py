"""The part ``queue``: how many tasks a second workers take from the queue, and how long mail waits
behind long work.

Tasks are taken as the task library takes them (the first that waits, locked, others skipped), by one to
eight processes, on a server that waits for the disk. Nothing is done in them but to be marked as done.
"""

import time
from typing import Any

from tests.bench.report import Report, best_of
from tests.paper.telling import tell

SECONDS = 3.0
WORKERS = (1, 2, 4, 8)
WAITING, FINISHED = 30_000, 500_000
LONG_S, MAILS = 2.0, 20
# Of a task, what a copy of it takes over.
COLUMNS = (
    "args_kwargs, priority, task_path, worker_ids, queue_name, backend_name, run_after, "
    "exception_class_path, traceback"
)


def run(report: Report, _largest: int) -> None:
    from tests.paper.server import product, together

    with product():
        from tests.paper import filling

        filling.begin()
        for workers in WORKERS:
            _enqueue("default", WAITING)
            found = together(workers, take_for, SECONDS)
            name = f"tasks taken and marked as done, {workers} worker{'s' * (workers > 1)}"
            tell(report, name, sum(found) / SECONDS, "tasks/s")
        _backlog(report)
        for apart in (False, True):
            _held_up(report, apart=apart)


def _enqueue(queue: str, count: int, path: str = "nothing", *, afresh: bool = True) -> None:
    """Rows of the library's table, as its ``enqueue`` writes them."""
    from django.utils import timezone
    from django_tasks_db.models import DBTaskResult, get_date_max

    if afresh:
        DBTaskResult.objects.all().delete()
    facts = {
        "args_kwargs": {"args": [], "kwargs": {}},
        "task_path": path,
        "backend_name": "default",
        "queue_name": queue,
    }
    rows: list[Any] = [
        DBTaskResult(
            **facts,
            run_after=get_date_max(),
            enqueued_at=timezone.now(),
            exception_class_path="",
            traceback="",
        )
        for _ in range(count)
    ]
    DBTaskResult.objects.bulk_create(rows, batch_size=2000)


def take(queues: list[str]) -> Any:
    """As ``db_worker`` does between two tasks; None where nothing waits."""
    from django_tasks_db.models import DBTaskResult
    from django_tasks_db.utils import exclusive_transaction

    tasks = DBTaskResult.objects.ready().filter(backend_name="default", queue_name__in=queues)
    with exclusive_transaction(tasks.db):
        task = tasks.get_locked()
        if task is not None:
            task.claim("worker")
    return task


def take_for(_nth: int, barrier: Any, seconds: float) -> int:
    import django

    django.setup()
    barrier.wait()
    began, taken = time.perf_counter(), 0
    while time.perf_counter() - began < seconds:
        task = take(["default"])
        if task is None:
            raise ValueError("too few tasks for so many workers")
        task.set_successful(None)
        taken += 1
    return taken


def _backlog(report: Report) -> None:
    from django_tasks_db.models import DBTaskResult

    from tests.paper.filling import run as run_sql

    table = DBTaskResult._meta.db_table
    for waiting, finished in ((100, 0), (WAITING, 0), (WAITING, FINISHED)):
        _enqueue("default", waiting)
        if finished:
            columns = COLUMNS
            run_sql(
                f"INSERT INTO {table} (id, status, enqueued_at, finished_at, {columns}) "  # noqa: S608
                f"SELECT gen_random_uuid(), 'SUCCESSFUL', now(), now(), {columns} FROM "
                f"(SELECT * FROM {table} LIMIT 1) t CROSS JOIN generate_series(1, %s)",
                [finished],
            )
        run_sql(f"VACUUM ANALYZE {table}")
        seconds, task = best_of(50, lambda: take(["default"]))
        assert task is not None
        tell(report, f"a task taken, {waiting:,} waiting and {finished:,} done", seconds * 1e3, "ms")


def _held_up(report: Report, *, apart: bool) -> None:
    """Two workers, two long pieces of work that were first, and mail behind them."""
    from tests.paper.server import together

    _enqueue("long" if apart else "default", 2, "long")
    _enqueue("mail" if apart else "default", MAILS, "mail", afresh=False)
    waits = [wait for found in together(2, work_through, apart) for wait in found]
    assert len(waits) == MAILS
    name = "each kind in a queue of its own" if apart else "one queue"
    remark = f"{MAILS} mails behind two pieces of work of {LONG_S:.0f} s, two workers"
    tell(report, f"the longest that mail waited, {name}", max(waits), "s", remark)


def work_through(nth: int, barrier: Any, apart: bool) -> list[float]:
    """One of two workers; how long each mail had waited since both began."""
    import django

    django.setup()
    queues = ["default"] if not apart else ["long"] if nth else ["mail"]
    barrier.wait()
    began, waits = time.perf_counter(), list[float]()
    while (task := take(queues)) is not None:
        if task.task_path == "long":
            time.sleep(LONG_S)
        else:
            waits.append(time.perf_counter() - began)
        task.set_successful(None)
    return waits
