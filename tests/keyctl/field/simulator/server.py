"""What a game asks of a server: the product's services behind it, or the double with its faults."""

from collections import Counter
from contextlib import AbstractContextManager
from typing import NamedTuple, Protocol

from tests.keyctl.field.simulator.book import Json, Spot
from tests.keyctl.field.simulator.tablet import Pack

APPLIED, DUPLICATE, CONFLICT, REJECTED = "applied", "duplicate", "accepted_with_conflict", "rejected"


class Row(NamedTuple):
    """A core as the register has it."""

    spot: Spot
    version: int
    disputed: bool


class Stored(NamedTuple):
    """A fact as it was kept."""

    device: str
    sequence: int
    kind: str
    body: Json
    outcome: str


class Server(Protocol):
    def pack(self, device: str) -> Pack: ...

    def take(self, actor: str | None, envelope: Json, *, device: str) -> list[Json] | None:
        """A batch over the wire from the tablet with this cookie ("" where it has none, as a file that is
        handed in); nothing where nobody is signed in."""

    def swap(self, actor: str, line: str, core_in: str, core_out: str, place: str) -> bool:
        """By an ordinary page, on what the page shows at this moment; whether it went through."""

    def put(self, actor: str, core: str, place: str) -> bool: ...

    def withdraw(self, device: str) -> None: ...

    def quarantine(self) -> list[str]:
        """The facts that wait for somebody, oldest first."""

    def take_in(self, event: str) -> bool:
        """Whether it had its effect."""

    def set_aside(self, event: str) -> None: ...

    def cases(self) -> dict[str, frozenset[str]]:
        """Open ones, and the cores that each is about."""

    def settle(self, case: str, places: dict[str, Spot]) -> bool: ...

    def register(self) -> dict[str, Row]: ...

    def stored(self) -> list[tuple[str, Stored]]: ...

    def gaps(self, device: str) -> set[int]: ...

    def branch(self) -> AbstractContextManager["Server"]:
        """A server that stands where this one does, for one of several ends; this one hears nothing of it."""

    def history(self) -> Counter[str]:
        """How many lines each effect has: "swapped", "moved", and "contradicted" for a fact that has none."""
