"""Handing messages to endpoints: each endpoint in a thread of its own, so that a slow one holds up no other.

No thread touches the database; what came of each message is noted by whoever asked, as soon as it is known.
"""

import queue
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

from keyctl.jobs.running import ending
from keyctl.lib.errors import Refused
from keyctl.lib.outward import Rules, ask
from keyctl.notices.wording import one_line
from keyctl.webhooks.models import Delivery, Try
from keyctl.webhooks.signing import headers

THREADS: Final = 8
# An endpoint's share of a round: what is left then waits for the next one.
SECONDS_EACH: Final = 20.0


@dataclass(frozen=True)
class Came:
    """``status``: the answer's code; None where none came, and ``words`` say why."""

    delivery: Delivery
    status: int | None
    milliseconds: int
    words: str

    @property
    def is_taken(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


@dataclass(frozen=True)
class Batch:
    """What one endpoint is told in a round, oldest first."""

    url: str
    rules: Rules
    secrets: Sequence[str]
    deliveries: Sequence[Delivery]


def hand_over(batches: Sequence[Batch]) -> Iterator[Came]:
    """What came of each message, as it comes; those behind one that reached nobody are not tried."""
    came: queue.SimpleQueue[Came | None] = queue.SimpleQueue()
    with ThreadPoolExecutor(THREADS, thread_name_prefix="webhooks") as pool:
        futures = [pool.submit(_work, batch, came) for batch in batches]
        open_batches = len(futures)
        while open_batches:
            each = came.get()
            if each is None:
                open_batches -= 1
            else:
                yield each
    _raise_first(futures)


def _work(batch: Batch, came: "queue.SimpleQueue[Came | None]") -> None:
    end = time.monotonic() + SECONDS_EACH
    try:
        for delivery in batch.deliveries:
            if ending.is_asked or time.monotonic() > end:
                break
            each = _hand(batch, delivery)
            came.put(each)
            if each.status is None:
                break
    finally:
        came.put(None)


def _hand(batch: Batch, delivery: Delivery) -> Came:
    body, began = delivery.body.encode(), time.monotonic()
    signed = headers(delivery.message_id, int(time.time()), body, batch.secrets)
    try:
        answer = ask(batch.url, body=body, headers=signed, rules=batch.rules)
    except Refused as refusal:
        return Came(delivery, None, _since(began), refusal.message[: Try.LONGEST_WORDS])
    text = one_line(answer.body.decode("utf-8", "replace"), Try.LONGEST_WORDS)
    return Came(delivery, answer.status, _since(began), text)


def _since(began: float) -> int:
    return round((time.monotonic() - began) * 1000)


def _raise_first(futures: Sequence["Future[None]"]) -> None:
    for future in futures:
        future.result()
