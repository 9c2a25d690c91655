"""What changed is read again: before a search, by the worker every minute, or all of it by a command."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.search.folding import marks
from keyctl.search.models import Entry, Keeper, Posting, Stale, Word
from keyctl.search.sources import SOURCES, WHOLE

# So many changed things are read before a search; it is a third of a second's work. The latest come first.
BEFORE_A_SEARCH: Final = 1_000
AT_ONCE: Final = 2_000
IN_A_ROUND: Final = 100_000

Key = tuple[UUID, UUID]
READ = kept_text(gettext_noop("Changed things read for the search: {read}."))


def bring_up_to_date(most: int = BEFORE_A_SEARCH) -> bool:
    """Whether all that changed has been read. Nothing is written where nothing changed."""
    if not Stale.objects.exists():
        return True
    _read_some(most)
    return not Stale.objects.exists()


def read_what_changed(_now: datetime | None = None) -> str:
    """The routine."""
    read = 0
    while read < IN_A_ROUND and (taken := _read_some(AT_ONCE)):
        read += taken
    return READ.format(read=read)


@transaction.atomic
def _read_some(most: int) -> int:
    # One at a time: the words of two would be written twice.
    Keeper.objects.get_or_create(pk=1)
    Keeper.objects.select_for_update().get(pk=1)
    rows = list(Stale.objects.order_by("-id").values_list("id", "kind", "thing")[:most])
    things: dict[str, set[UUID]] = {}
    for _id, kind, thing in rows:
        things.setdefault(kind, set()).add(thing)
    for kind, changed in things.items():
        _enter(kind, changed)
    Stale.objects.filter(id__in=[row[0] for row in rows]).delete()
    return len(rows)


def _enter(kind: str, things: set[UUID]) -> None:
    """Entries of these things as they stand now; those that are gone go."""
    fresh = {(thing, site): words for thing, site, words in SOURCES[kind].rows(things)}
    known = {(row.thing, row.site): row for row in Entry.objects.filter(kind=kind, thing__in=things)}
    kept = [known[key] for key in known.keys() & fresh.keys()]
    changed = [row for row in kept if row.words != fresh[row.thing, row.site]]
    gone = [known[key] for key in known.keys() - fresh.keys()]
    lost = [(row.id, row.site, _texts(row.words)) for row in gone]
    won = _enter_new(kind, {key: fresh[key] for key in fresh.keys() - known.keys()})
    for row in changed:
        before, after = _texts(row.words), _texts(fresh[row.thing, row.site])
        row.words = fresh[row.thing, row.site]
        lost.append((row.id, row.site, before - after))
        won.append((row.id, row.site, after - before))
    Entry.objects.filter(id__in=[row.id for row in gone]).delete()
    Entry.objects.bulk_update(changed, ["words"], batch_size=500)
    _post(won)
    _unpost(lost)


Words = list[tuple[int, UUID, set[str]]]


def _enter_new(kind: str, fresh: dict[Key, str]) -> Words:
    made = Entry.objects.bulk_create(
        [Entry(kind=kind, thing=thing, site=site, words=words) for (thing, site), words in fresh.items()]
    )
    return [(row.id, row.site, _texts(row.words)) for row in made]


def _texts(words: str) -> set[str]:
    return {word[1:] for word in words.split(" ") if word}


def _post(won: Words) -> None:
    numbers = _numbers_of({(site, text) for _, site, texts in won for text in texts}, is_new=True)
    pairs = [(numbers[site, text], entry) for entry, site, texts in won for text in texts]
    _many("INSERT INTO search_posting (word, entry) VALUES (%s, %s)", pairs)


def _unpost(lost: Words) -> None:
    numbers = _numbers_of({(site, text) for _, site, texts in lost for text in texts}, is_new=False)
    pairs = [(numbers[site, text], entry) for entry, site, texts in lost for text in texts]
    _many("DELETE FROM search_posting WHERE word = %s AND entry = %s", pairs)
    _forget(set(numbers.values()))


def _forget(numbers: set[int]) -> None:
    """A word that nothing has any more goes with its traces: a name is not kept longer than who bears it."""
    for some in _portions(list(numbers)):
        unused = Word.objects.filter(~Exists(Posting.objects.filter(word=OuterRef("id"))), id__in=some)
        traces = [(mark, word.id) for word in unused for mark in _marks(str(word))]
        _many("DELETE FROM search_trace WHERE mark = %s AND word = %s", traces)
        Word.objects.filter(id__in=[word.id for word in unused]).delete()


def _numbers_of(wanted: set[tuple[UUID, str]], *, is_new: bool) -> dict[tuple[UUID, str], int]:
    """The numbers of words, which are written where they are new."""
    by_site: dict[UUID, list[bytes]] = {}
    for site, text in wanted:
        by_site.setdefault(site, []).append(text.encode())
    found: dict[tuple[UUID, str], int] = {}
    for site, texts in by_site.items():
        for some in _portions(texts):
            rows = Word.objects.filter(site=site, text__in=some).values_list("text", "id")
            found |= {(site, bytes(text).decode()): number for text, number in rows}
    if is_new:
        found |= _written(wanted - found.keys())
    return found


def _written(words: Iterable[tuple[UUID, str]]) -> dict[tuple[UUID, str], int]:
    rows = [Word(site=site, text=text.encode()) for site, text in words]
    made = {(row.site, str(row)): row.id for row in Word.objects.bulk_create(rows, batch_size=2_000)}
    traces = [(mark, number) for (_, text), number in made.items() for mark in _marks(text)]
    _many("INSERT INTO search_trace (mark, word) VALUES (%s, %s)", traces)
    return made


def _marks(text: str) -> set[int]:
    return set() if text.startswith(WHOLE) else marks(text)


def _portions(rows: list[Any]) -> Iterator[list[Any]]:
    yield from (rows[start : start + 500] for start in range(0, len(rows), 500))


def _many(statement: str, rows: list[tuple[int, int]]) -> None:
    if rows:
        with connection.cursor() as cursor:
            cursor.executemany(statement, rows)
