"""What the search's tables refuse, for the test that asks the database itself."""

from collections.abc import Callable
from uuid import UUID

from keyctl.search.models import Entry, Keeper, Stale, Word
from tests.cast import Cast

NONE = UUID(int=0)


def entries(kind: str, times: int) -> None:
    for _ in range(times):
        Entry.objects.create(kind=kind, thing=NONE, site=NONE, words="3a")


def words(times: int) -> None:
    for _ in range(times):
        Word.objects.create(site=NONE, text=b"a")


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "thing_is_entered_once_a_site": lambda _cast: entries("door", 2),
    "entry_is_of_a_known_kind": lambda _cast: entries("lock", 1),
    "word_is_kept_once_a_site": lambda _cast: words(2),
    "stale_is_of_a_known_kind": lambda _cast: Stale.objects.create(kind="lock", thing=NONE),
    "search_is_kept_by_one": lambda _cast: Keeper.objects.create(pk=2),
}
