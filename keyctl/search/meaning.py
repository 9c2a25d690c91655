"""What each typed word may mean: the words that are kept at some sites, and how far each is from it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final
from uuid import UUID

from keyctl.search.folding import LONGEST_WORD, errors_forgiven, marks_to_try, squeezed
from keyctl.search.models import Trace, Word
from keyctl.search.nearness import distance
from keyctl.search.sources import WHOLE

LONGEST_QUERY: Final = 200
MOST_TOKENS: Final = 8
# A word that begins as typed is nearer than one with an error.
BEGINS: Final = 0.4
MOST_BEGINNINGS: Final = 300
MOST_NEAR: Final = 3_000
# An identifier is told as long as this.
LONGEST_IDENTIFIER: Final = 120


@dataclass(frozen=True)
class Asked:
    """What was typed, as far as it is looked at."""

    text: str
    tokens: tuple[str, ...]

    @classmethod
    def read(cls, typed: str) -> "Asked":
        text = " ".join(typed.split())
        chunks = text[:LONGEST_QUERY].split()
        return cls(text, tuple(token for token in map(squeezed, chunks) if token)[:MOST_TOKENS])

    @property
    def identifier(self) -> str:
        whole = self.text.replace(" ", "")
        return WHOLE + whole if len(whole) <= LONGEST_IDENTIFIER else ""

    @property
    def together(self) -> str:
        """Signs typed in groups: `BCDF 2345 GHJK`, `AA 12`."""
        whole = "".join(self.tokens)
        return whole if len(self.tokens) > 1 and len(whole) <= LONGEST_WORD else ""

    def readings(self) -> Iterator[tuple[str, ...]]:
        if self.tokens:
            yield self.tokens
        if self.together:
            yield (self.together,)

    def joined(self) -> Iterator[tuple[str, ...]]:
        """A blank too many: each two neighbours as one word."""
        for at in range(len(self.tokens) - 1 if len(self.tokens) > 2 else 0):
            yield (*self.tokens[:at], self.tokens[at] + self.tokens[at + 1], *self.tokens[at + 2 :])

    def parted(self, token: str) -> Iterator[tuple[str, str]]:
        """A blank too few, or mistaken for another sign."""
        for at in range(1, len(token)):
            yield token[:at], token[at:]
            yield token[:at], token[at + 1 :]


@dataclass
class Meaning:
    """Words by how far they are from what was typed, with the numbers under which they are kept."""

    costs: dict[str, float] = field(default_factory=dict)
    numbers: dict[str, list[int]] = field(default_factory=dict)

    def add(self, text: str, number: int, cost: float) -> None:
        self.costs[text] = min(cost, self.costs.get(text, cost))
        self.numbers.setdefault(text, []).append(number)

    def exact(self) -> list[int]:
        return [number for text, cost in self.costs.items() if not cost for number in self.numbers[text]]

    def all(self) -> list[int]:
        nearest = sorted(self.costs, key=lambda text: (self.costs[text], len(text), text))
        return [number for text in nearest for number in self.numbers[text]]


class Lexicon:
    """The words of some sites, asked about once each."""

    def __init__(self, sites: Iterable[UUID]) -> None:
        self._words = Word.objects.filter(site__in=list(sites))
        self._meant: dict[str, Meaning] = {}
        self._near: set[str] = set()

    def meaning(self, token: str) -> Meaning:
        if token not in self._meant:
            self._meant[token] = self._read(token)
        return self._meant[token]

    def nearly(self, token: str) -> Meaning:
        """With typing errors."""
        found = self.meaning(token)
        if token not in self._near:
            self._near.add(token)
            for text, number in self._traced(token):
                most = errors_forgiven(max(token, text, key=len))
                if text not in found.costs and (cost := distance(token, text, most)) <= most + 0.25:
                    found.add(text, number, 1 + cost)
                elif found.costs.get(text, 0) > 1:
                    found.add(text, number, found.costs[text])
        return found

    def known(self, texts: Iterable[str]) -> set[str]:
        rows = self._words.filter(text__in=[text.encode() for text in texts])
        return {bytes(text).decode() for text in rows.values_list("text", flat=True)}

    def _read(self, token: str) -> Meaning:
        found, raw = Meaning(), token.encode()
        for number in self._words.filter(text=raw).values_list("id", flat=True):
            found.add(token, number, 0.0)
        if not token.startswith(WHOLE):
            begin = self._words.filter(text__gt=raw, text__lt=raw + b"\xff").values_list("text", "id")
            for text, number in begin[:MOST_BEGINNINGS]:
                found.add(bytes(text).decode(), number, BEGINS)
        return found

    def _traced(self, token: str) -> Iterator[tuple[str, int]]:
        traces = Trace.objects.filter(mark__in=marks_to_try(token)).values("word")
        rows = self._words.filter(id__in=traces).values_list("text", "id")
        return ((bytes(text).decode(), number) for text, number in rows[:MOST_NEAR])
