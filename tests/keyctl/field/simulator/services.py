"""The product's own services behind a game, on a real database; what the referee reads is read row by row."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import copy
from datetime import datetime
from json import loads
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import QuerySet

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import Whereabouts, move_core
from keyctl.field import services
from keyctl.field.models import Device, FieldEvent, ReconcileCase, RejectedEvent
from keyctl.field.selectors.devices import gaps_of
from keyctl.lib.errors import Refused
from keyctl.orders.models import OrderLine
from keyctl.orders.services import choose_core, complete_swap
from tests.keyctl.field.simulator.book import Estate, Json, Spot
from tests.keyctl.field.simulator.ground import Ground
from tests.keyctl.field.simulator.server import REJECTED, Row, Stored
from tests.keyctl.field.simulator.tablet import Pack

EFFECTS = {"core.swapped": "swapped", "core.moved": "moved", "field.contradicted": "contradicted"}
Rows = list[tuple[Any, ...]]


def goes_through(act: Callable[[], object]) -> bool:
    try:
        act()
    except Refused:
        return False
    return True


def asked(rows: "QuerySet[Any, Any]") -> Callable[[], Rows]:
    """The same question again and again; what it is in SQL is worked out once."""
    sql, params = rows.query.sql_with_params()

    def ask() -> Rows:
        with connection.cursor() as cursor:
            cursor.execute(sql, params)
            return list(cursor.fetchall())

    return ask


def text_of(pk: Any) -> str:
    """A key as its text; SQLite gives the bare digits."""
    return str(UUID(str(pk))) if pk else ""


LAST_EVENT = asked(Event.objects.order_by("-pk").values_list("pk")[:1])
LAST_NUMBERS = asked(Device.objects.order_by().values_list("pk", "last_sequence"))
LINES = asked(OrderLine.objects.order_by().values_list("pk", "state", "core_id"))
KEPT = asked(
    FieldEvent.objects.order_by().values_list("pk", "device_id", "sequence", "kind", "body", "outcome")
)
REJECTED_ONES = asked(RejectedEvent.objects.order_by().values_list("event_id", "device_id", "text"))
OPEN_CASES = asked(
    ReconcileCase.objects.filter(state=ReconcileCase.State.OPEN)
    .order_by()
    .values_list("pk", "case_cores__core__tag", "case_cores__is_open")
)


class Services:
    def __init__(self, ground: Ground, estate: Estate) -> None:
        self.ground, self.estate = ground, estate
        self.devices = dict(ground.devices)
        self.before: int = max((pk for (pk,) in LAST_EVENT()), default=0)
        cores = Core.objects.filter(tag__in=estate.spots).order_by()
        self.cores = asked(
            cores.values_list("tag", "place", "housing_id", "carrier_id", "version", "disputed_at")
        )

    @contextmanager
    def branch(self) -> Iterator["Services"]:
        here = transaction.savepoint()
        twin = copy(self)
        twin.devices = dict(self.devices)
        yield twin
        # Rolled back it would still lie on the stack, and every write looks through all that do.
        transaction.savepoint_rollback(here)
        transaction.savepoint_commit(here)

    def pack(self, device: str) -> Pack:
        register = self.register()
        open_lines = {text_of(pk) for pk, state, _ in LINES() if state == OrderLine.State.OPEN}
        numbers = {text_of(pk): last for pk, last in LAST_NUMBERS()}
        return Pack(
            {tag: row.spot for tag, row in register.items()},
            {tag: row.version for tag, row in register.items()},
            {line: housing for line, housing in self.estate.lines.items() if line in open_lines},
            numbers[device] + 1,
        )

    def take(self, actor: str | None, envelope: Json, *, device: str) -> list[Json] | None:
        if actor is None:
            return None
        answers = services.take_batch(
            actor=self.ground.people[actor],
            device=self.devices[envelope["device"]],
            sent_at=datetime.fromisoformat(envelope["sent_at"]),
            events=envelope["events"],
            via="tablet" if device else "file",
        )
        return [
            {
                "event_id": str(each.event_id),
                "outcome": str(each.outcome),
                "first_outcome": str(each.first_outcome),
            }
            for each in answers
        ]

    def swap(self, actor: str, line: str, core_in: str, core_out: str, place: str) -> bool:
        user, row = self.ground.people[actor], self.ground.lines[line]
        incoming, version = self.ground.cores[core_in], self.register()[core_in].version
        chosen = {text_of(pk): text_of(core) for pk, _, core in LINES()}

        def act() -> None:
            if chosen[line] != str(incoming.pk):
                choose_core(actor=user, line=row, core=incoming)
            complete_swap(
                actor=user,
                line=row,
                core_in_version=version,
                core_out_id=self.ground.cores[core_out].pk if core_out else None,
                put_at=place,
                operating_key_turned=True,
                control_key_came_out=True,
                egress_and_latch_tried=True,
            )

        return goes_through(act)

    def put(self, actor: str, core: str, place: str) -> bool:
        user, row, version = self.ground.people[actor], self.ground.cores[core], self.register()[core].version
        return goes_through(lambda: move_core(actor=user, core=row, version=version, place=place))

    def withdraw(self, device: str) -> None:
        self.devices[device] = services.withdraw_device(
            actor=self.ground.office, device=self.devices[device], reason="It was left in a train."
        )

    def quarantine(self) -> list[str]:
        waiting = FieldEvent.objects.filter(quarantine=FieldEvent.Quarantine.WAITING)
        return [str(pk) for pk in waiting.order_by("received_at", "sequence").values_list("pk", flat=True)]

    def take_in(self, event: str) -> bool:
        told = FieldEvent.objects.get(pk=event)
        return services.take_in(actor=self.ground.office, events=[told])[0].case is None

    def set_aside(self, event: str) -> None:
        told = FieldEvent.objects.get(pk=event)
        services.set_aside(actor=self.ground.office, events=[told], reason="Made up.")

    def cases(self) -> dict[str, frozenset[str]]:
        cases: dict[str, set[str]] = {}
        for pk, tag, is_open in OPEN_CASES():
            cases.setdefault(str(pk), set()).update([tag] if is_open else [])
        return {pk: frozenset(tags) for pk, tags in cases.items()}

    def settle(self, case: str, places: dict[str, Spot]) -> bool:
        row = ReconcileCase.objects.get(pk=case)
        cores = Core.objects.filter(tag__in=places)
        truth = {core: self._whereabouts(*places[core.tag]) for core in cores}
        return goes_through(
            lambda: services.settle_case(actor=self.ground.office, case=row, places=truth, note="Looked.")
        )

    def _whereabouts(self, place: str, of: str) -> Whereabouts:
        return Whereabouts(place, self.ground.housings.get(of), self.ground.people.get(of))

    def register(self) -> dict[str, Row]:
        return {
            tag: Row((place, text_of(housing or carrier)), version, disputed is not None)
            for tag, place, housing, carrier, version, disputed in self.cores()
        }

    def stored(self) -> list[tuple[str, Stored]]:
        facts = []
        for pk, device, sequence, kind, body, outcome in KEPT():
            told = loads(body) if isinstance(body, str) else body
            facts.append((text_of(pk), Stored(text_of(device), sequence, kind, told, outcome)))
        for pk, device, text in REJECTED_ONES():
            told = loads(text)
            fact = Stored(text_of(device), told["sequence"], told["kind"], told["body"], REJECTED)
            facts.append((text_of(pk), fact))
        return facts

    def gaps(self, device: str) -> set[int]:
        gaps = gaps_of(self.devices[device])
        return {number for gap in gaps for number in range(gap.first, gap.last + 1)}

    def history(self) -> Counter[str]:
        events = Event.objects.filter(pk__gt=self.before, verb__in=EFFECTS).order_by()
        return Counter(EFFECTS[verb] for (verb,) in asked(events.values_list("verb"))())
