"""Finding: what was typed as words in any order and as one word; exactly, by beginnings, then nearly."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from uuid import UUID

from django.db.models import Q, QuerySet

from keyctl.search.meaning import BEGINS, Asked, Lexicon, Meaning
from keyctl.search.models import KINDS, Entry, Posting
from keyctl.search.reach import Reach
from keyctl.search.sources import CALLED, INNER, OWN

# So many entries are weighed for one reading; where more have the words, any of them will do.
MOST_WEIGHED: Final = 2_000
# Fewer than so many, and errors are looked for.
ENOUGH: Final = 5
# Of what was typed one word is enough to be told as near.
MOST_NEAR_HITS: Final = 5


@dataclass(frozen=True, order=True)
class Rank:
    """The whole name or number, its beginning, all words, words with errors; then how well they fit."""

    tier: int
    cost: float
    kind: int
    words: str


@dataclass(frozen=True)
class Hit:
    kind: str
    thing: UUID
    site: UUID
    rank: Rank


@dataclass
class Hits:
    asked: Asked
    hits: list[Hit] = field(default_factory=list)
    # Where nothing has all words: what has some.
    near: list[Hit] = field(default_factory=list)


def find(reach: Reach, typed: str) -> Hits:
    """Best first. Nothing out of reach takes part: neither as a hit nor as a word."""
    return _Search(reach, Asked.read(typed)).run()


class _Search:
    def __init__(self, reach: Reach, asked: Asked) -> None:
        self._reach, self._asked = reach, asked
        self._own = list(Entry.objects.filter(_of(reach.own))) if any(reach.own.values()) else []
        self._lexicon = Lexicon(reach.all_sites | {entry.site for entry in self._own})
        self._found: dict[tuple[str, UUID], Hit] = {}

    def run(self) -> Hits:
        if identifier := self._asked.identifier:
            self._read((identifier,))
        for reading in self._asked.readings():
            self._read(reading)
        if len(self._found) < ENOUGH:
            self._read_nearly()
        hits = self._sorted()
        near = [] if hits else self._some_words()
        return Hits(self._asked, hits, near)

    def _read_nearly(self) -> None:
        for reading in (*self._asked.readings(), *self._asked.joined(), *self._parted()):
            self._read(reading, nearly=True)

    def _parted(self) -> Iterator[tuple[str, ...]]:
        """A word that nobody has, in two that somebody has."""
        tokens = self._asked.tokens
        for at, token in enumerate(tokens):
            if not self._lexicon.meaning(token).exact():
                halves = list(self._asked.parted(token))
                known = self._lexicon.known(half for pair in halves for half in pair)
                for one, other in halves:
                    if {one, other} <= known:
                        yield (*tokens[:at], one, other, *tokens[at + 1 :])

    def _some_words(self) -> list[Hit]:
        for token in self._asked.tokens if len(self._asked.tokens) > 1 else ():
            self._read((token,), nearly=True)
        return self._sorted()[:MOST_NEAR_HITS]

    def _read(self, reading: tuple[str, ...], *, nearly: bool = False) -> None:
        ask = self._lexicon.nearly if nearly else self._lexicon.meaning
        meant = [(token, ask(token)) for token in reading]
        if all(meaning.costs for _, meaning in meant):
            for entry in (*self._candidates([meaning for _, meaning in meant]), *self._own):
                self._weigh(entry, meant)

    def _candidates(self, meanings: list[Meaning]) -> "QuerySet[Entry] | list[Entry]":
        """The entries of the rarest word; where all are common, those that have them all."""
        entries = Entry.objects.filter(kind__in=self._reach.kinds)
        counted = [(_count(meaning.all()), at) for at, meaning in enumerate(meanings)]
        fewest, at = min(counted)
        if fewest <= MOST_WEIGHED:
            return entries.filter(id__in=_having(meanings[at].all()))
        if len(meanings) == 1:
            exact = list(entries.filter(id__in=_having(meanings[0].exact()))[:MOST_WEIGHED])
            return exact or list(entries.filter(id__in=_having(meanings[0].all()))[:MOST_WEIGHED])
        for meaning in meanings:
            entries = entries.filter(id__in=_having(meaning.all()))
        return entries[:MOST_WEIGHED]

    def _weigh(self, entry: Entry, meant: list[tuple[str, Meaning]]) -> None:
        if not self._reach.allows(entry.kind, entry.site, entry.thing):
            return
        words = list(_words_read(entry, inner=self._reach.reads_inner(entry.site)))
        costs = [_cost(token, meaning, words) for token, meaning in meant]
        fitting = [cost for cost in costs if cost is not None]
        if len(fitting) < len(costs):
            return
        # Of two that have the words, the one that is called nothing else.
        unasked = sum(weight >= CALLED for weight, _ in words) - len(meant)
        rank = Rank(
            _tier(meant, words, max(fitting)),
            round(sum(fitting) + 0.02 * max(unasked, 0), 2),
            KINDS.index(entry.kind),
            entry.words,
        )
        key = entry.kind, entry.thing
        if key not in self._found or rank < self._found[key].rank:
            self._found[key] = Hit(entry.kind, entry.thing, entry.site, rank)

    def _sorted(self) -> list[Hit]:
        return sorted(self._found.values(), key=lambda hit: (hit.rank, hit.thing))


def _words_read(entry: Entry, *, inner: bool) -> Iterator[tuple[int, str]]:
    for word in entry.words.split(" "):
        if (weight := int(word[0])) != INNER:
            yield weight, word[1:]
        elif inner:
            yield OWN, word[1:]


def _of(own: Mapping[str, frozenset[UUID]]) -> Q:
    asked = Q(pk__in=[])
    for kind, things in own.items():
        asked |= Q(kind=kind, thing__in=things)
    return asked


def _having(words: Iterable[int]) -> QuerySet[Posting, Any]:
    return Posting.objects.filter(word__in=list(words)).values("entry")


def _count(words: list[int]) -> int:
    return _having(words)[: MOST_WEIGHED + 1].count()


def _cost(token: str, meaning: Meaning, words: list[tuple[int, str]]) -> float | None:
    """How far the best word of an entry is from the one that was typed; none where no word will do."""
    costs = (
        (cost + 0.1 * (OWN - weight))
        for weight, word in words
        if (cost := _of_word(token, meaning, word)) is not None
    )
    return min(costs, default=None)


def _of_word(token: str, meaning: Meaning, word: str) -> float | None:
    cost = meaning.costs.get(word)
    return BEGINS if cost is None and word.startswith(token) else cost


def _tier(meant: list[tuple[str, Meaning]], words: list[tuple[int, str]], worst: float) -> int:
    own = [word for weight, word in words if weight == OWN]
    token = meant[0][0] if len(meant) == 1 else ""
    if token and token in own:
        return 0
    if token and any(word.startswith(token) for word in own):
        return 1
    return 2 if worst < 1 else 3
