"""Every law held against all data of one moment; what is found is told with its place and its remedy."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

from django.db import DatabaseError, transaction
from django.utils.translation import gettext_noop

from keyctl.lib.errors import Refused
from keyctl.lib.language import english
from keyctl.lib.laws import Law, NotLookedAt, known_laws
from keyctl.lib.retold import kept_text
from keyctl.vault.errors import Sealed

# Of one law so many breaches are named; the rest is counted.
MOST_NAMED = 25
LONGEST = 400

# Where the checkpoints of the data that is looked at lie; None: where the settings say.
checkpoints_lie_in: ContextVar[Path | None] = ContextVar("checkpoints_lie_in", default=None)
LOOKED_AT = kept_text(gettext_noop("{looked} of {laws} laws looked at, {number} breaches."))
UNREADABLE = kept_text(gettext_noop("Data here cannot be read at all ({error})."))


@dataclass(frozen=True)
class Breached:
    """A law with what breaks it."""

    law: Law
    named: list[str]
    number: int

    @property
    def sentences(self) -> list[str]:
        more = self.number - len(self.named)
        return [*self.named, f"{more} more like these."] if more else self.named


@dataclass
class Outcome:
    laws: int = 0
    breached: list[Breached] = field(default_factory=list)
    # By law, why it was not looked at.
    left_out: dict[str, str] = field(default_factory=dict)
    seconds: float = 0.0

    @property
    def number(self) -> int:
        return sum(each.number for each in self.breached)

    @property
    def words(self) -> str:
        """In English, as kept; pages tell them again."""
        return LOOKED_AT.format(**self.figures)

    @property
    def figures(self) -> dict[str, int]:
        return {"looked": self.laws - len(self.left_out), "laws": self.laws, "number": self.number}


def look_at_everything(checkpoints: Path | None = None) -> Outcome:
    """Over the default database of this thread as it stands; nothing is changed. What is found is kept in
    English, whoever looks."""
    outcome, began = Outcome(), perf_counter()
    with english(), _checkpoints_in(checkpoints):
        for law in known_laws():
            outcome.laws += 1
            _hold_against(law, outcome)
    outcome.seconds = perf_counter() - began
    return outcome


def _hold_against(law: Law, outcome: Outcome) -> None:
    named, number = list[str](), 0
    try:
        for words in _found(law):
            number += 1
            if number <= MOST_NAMED:
                named.append(words[:LONGEST])
    except (NotLookedAt, Sealed) as reason:
        outcome.left_out[law.name] = " ".join(reason.args)
    if number:
        outcome.breached.append(Breached(law, named, number))


def _found(law: Law) -> Iterator[str]:
    """What cannot even be looked at is a finding: altered data may be no date and no number any more."""
    try:
        # A savepoint: PostgreSQL answers nothing more in a transaction after an error.
        with transaction.atomic():
            yield from law.look()
    except (NotLookedAt, Sealed):
        raise
    except Refused as refused:
        yield " ".join(refused.sentences)
    except (DatabaseError, ValueError, TypeError, KeyError) as error:
        yield UNREADABLE.format(error=type(error).__name__)


@contextmanager
def _checkpoints_in(folder: Path | None) -> Iterator[None]:
    token = checkpoints_lie_in.set(folder)
    try:
        yield
    finally:
        checkpoints_lie_in.reset(token)
