"""The book held against the database: own statements on an own connection, past the product."""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from tests.faults.looking import CORES, NEVER, Look
from tests.load.book import Act, Book

# History says so of what was refused, on purpose.
TOLD_ALTHOUGH_REFUSED = {"account.sign_in_held_up"}
ANSWERED_WELL = range(200, 400)
LAST_EVENT = "SELECT coalesce(max(id), 0) FROM audit_event"
OURS = "SELECT id FROM accounts_user WHERE username LIKE 'load-%'"
# What the book marked by each question, as the database has it.
MARKED = {
    "requests": "SELECT reason FROM approvals_keyrequest WHERE reason LIKE '{mark} %'",
    "holders": "SELECT name FROM keys_holder WHERE name LIKE '{mark} %'",
    "acts at the desk": "SELECT id FROM keys_handover WHERE by_id IN ({ours})",
    "events of tablets": "SELECT id FROM field_fieldevent WHERE sender_id IN ({ours})",
    "lines done": "SELECT id FROM orders_orderline WHERE done_by_id IN ({ours})",
}
EVENTS = (
    "SELECT request, verb, count(*) FROM audit_event WHERE id > {first} AND request <> '' "
    "GROUP BY request, verb"
)
JOBS = "SELECT asked_at, started_at FROM jobs_job"
TASKS = "SELECT enqueued_at, started_at FROM django_tasks_database_dbtaskresult"
MOST_TOLD = 20


def faults(look: Look, book: Book, first_event: int, mark: str) -> list[str]:
    found = [f"{name}: {rows[:3]}" for name, sql in NEVER.items() if (rows := look.rows(sql))]
    events = _events(look, first_event)
    found += list(_missing(book.acts, events))
    found += list(_uncalled(book.numbers, events))
    found += list(_marks(look, book, mark))
    return found[:MOST_TOLD] + ([f"and {len(found) - MOST_TOLD} more"] if len(found) > MOST_TOLD else [])


def _events(look: Look, first: int) -> dict[str, Counter[str]]:
    """By the number of the request, how often each verb."""
    told: dict[str, Counter[str]] = {}
    for request, verb, count in look.rows(EVENTS.format(first=first)):
        told.setdefault(request, Counter())[verb] += count
    return told


def _missing(acts: Iterable[Act], events: dict[str, Counter[str]]) -> Iterator[str]:
    """What was answered must be there, once and only once."""
    for act in acts:
        there = events.get(act.request, Counter())
        for verbs, count in act.verbs.items():
            seen = sum(there[verb] for verb in verbs.split("|"))
            if seen != count:
                yield f"{act.what} ({act.request}): {seen} times {verbs} instead of {count}; {dict(there)}"


def _uncalled(numbers: dict[str, int], events: dict[str, Counter[str]]) -> Iterator[str]:
    """What was refused must not be there, nor what nobody sent."""
    for request, verbs in events.items():
        status = numbers.get(request, -1)
        if status in ANSWERED_WELL or status == 0 or set(verbs) <= TOLD_ALTHOUGH_REFUSED:
            continue
        yield f"request {request} was answered {status}, and history says {dict(verbs)}"


def _marks(look: Look, book: Book, mark: str) -> Iterator[str]:
    """More than marked may only be there where an answer never came."""
    spare = sum(status == 0 for status in book.numbers.values())
    for question, sql in MARKED.items():
        there = Counter(_plain(value) for (value,) in look.rows(sql.format(mark=mark, ours=OURS)))
        marked = {_plain(value) for asked, value in book.marks if asked == question}
        for value in marked:
            if there[value] != 1:
                yield f"{question}: {value} is there {there[value]} times"
        if (others := len(set(there) - marked)) > spare:
            yield f"{question}: {others} are there that nobody was told of"


def _plain(value: Any) -> str:
    """One spelling for an identifier, whatever the database makes of it."""
    text = str(value)
    try:
        return UUID(text).hex
    except ValueError:
        return text


def waits(look: Look, since: datetime) -> dict[str, list[float]]:
    """Seconds that work waited for a worker: jobs, and all tasks of the queue with the mail among them."""
    asked = {"jobs": JOBS, "all tasks, mail among them": TASKS}
    return {name: list(_waited(look.rows(sql), since)) for name, sql in asked.items()}


def _waited(rows: list[Any], since: datetime) -> Iterator[float]:
    for asked, started in rows:
        begun = _moment(asked)
        if begun >= since and started is not None:
            yield (_moment(started) - begun).total_seconds()


def _moment(value: Any) -> datetime:
    """SQLite keeps a moment as text in UTC."""
    moment = value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def spots(look: Look, told: dict[str, tuple[str, int]]) -> list[str]:
    """Cores that only one tablet handled: where it says, at the version it counted."""
    there = {
        tag: (_plain(housing) if housing else place, version)
        for tag, place, housing, version in look.rows(CORES)
    }
    wanted = {tag: (_plain(spot), version) for tag, (spot, version) in told.items()}
    return [
        f"core {tag} should be at {spot}, and is at {there.get(tag)}"
        for tag, spot in wanted.items()
        if there.get(tag) != spot
    ][:MOST_TOLD]
