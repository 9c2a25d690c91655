"""Fewest keys against fewest extra doors: by search where few keys are left to choose from, and as a quick
preview that is good and not proven.

>>> from pinning.covers import reduce_cover
>>> cover = reduce_cover({"M": "abxy", "A": "a", "B": "bx"}, "ab")
>>> search_front(cover, 2, 1000)
{1: (2, (0,)), 2: (1, (1, 2))}
"""

from collections.abc import Callable, Sequence
from typing import Any

from pinning.covers import Cover, bits_of

__all__ = ["Front", "preview_front", "search_front"]

# Number of keys -> (extra doors, the keys by place in the cover).
Front = dict[int, tuple[int, tuple[int, ...]]]
MOST_SEARCHED = 60
# What a further key is held to be worth in extra doors, from "nothing" to "more than any".
PRICES = (0.0, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 1e3, 1e9)


def search_front(cover: Cover[Any], most_keys: int, most_steps: int) -> Front | None:
    """The whole front, exactly, or None where it takes more steps than allowed."""
    if len(cover.openers) > MOST_SEARCHED:
        return None
    search = _Search(cover, most_keys, most_steps)
    return search.front if search.go((), 0, 0, (1 << len(cover.openers)) - 1, 0) else None


class _Search:
    """Depth first: the needed door with fewest keys is opened by each of them in turn, and keys that were
    tried are set aside for what follows, so that no set of keys is met twice."""

    def __init__(self, cover: Cover[Any], most_keys: int, most_steps: int) -> None:
        self.cover, self.most_keys, self.left = cover, most_keys, most_steps
        self.widest = max((keys.bit_count() for keys in cover.covers), default=1)
        self.front: Front = {}

    def go(self, chosen: tuple[int, ...], added: int, extra: int, closed: int, barred: int) -> bool:
        """False where the steps have run out."""
        self.left -= 1
        if self.left < 0:
            return False
        if not closed:
            self._keep(tuple(sorted(chosen)), extra)
            return True
        if self._is_beaten(len(chosen) - (-closed.bit_count() // self.widest), extra):
            return True
        for key in self._next_keys(closed, barred):
            more = self.cover.adds[key] & ~added
            weight = extra + self.cover.weight(more)
            open_too = closed & ~self.cover.covers[key]
            if not self.go((*chosen, key), added | more, weight, open_too, barred):
                return False
            barred |= 1 << key
        return True

    def _next_keys(self, closed: int, barred: int) -> list[int]:
        openers = self.cover.openers
        free = ([key for key in openers[door] if not barred >> key & 1] for door in bits_of(closed))
        return min(free, key=len)

    def _is_beaten(self, number: int, extra: int) -> bool:
        if number > self.most_keys:
            return True
        return any(known <= number and best <= extra for known, (best, _) in self.front.items())

    def _keep(self, chosen: tuple[int, ...], extra: int) -> None:
        if not self._is_beaten(len(chosen), extra):
            self.front[len(chosen)] = (extra, chosen)
            self.front = undominated(self.front)


def preview_front(cover: Cover[Any], most_keys: int) -> Front:
    """A front in no time: keys picked one by one by what they open and add, at several prices of a key,
    then thinned out. Every entry opens all needed doors; a better one may exist."""
    found: Front = {}
    for price in PRICES:
        chosen = _thinned(cover, _picked(cover, price))
        extra = cover.extra_doors(chosen)
        if len(chosen) <= most_keys and extra < found.get(len(chosen), (extra + 1, ()))[0]:
            found[len(chosen)] = (extra, chosen)
    return undominated(found)


def undominated(found: Front) -> Front:
    """By number of keys, without the entries that more keys do not better."""
    front: Front = {}
    for number, (extra, chosen) in sorted(found.items()):
        if not front or extra < min(best for best, _ in front.values()):
            front[number] = (extra, chosen)
    return front


def _picked(cover: Cover[Any], price: float) -> list[int]:
    closed, added, chosen = (1 << len(cover.openers)) - 1, 0, list[int]()
    while closed:
        key = min(_useful(cover, closed), key=_cost(cover, closed, added, price))
        chosen.append(key)
        closed &= ~cover.covers[key]
        added |= cover.adds[key]
    return chosen


def _useful(cover: Cover[Any], closed: int) -> Sequence[int]:
    """The keys of the closed door that fewest keys open: one of them has to be taken anyhow."""
    return min((cover.openers[door] for door in bits_of(closed)), key=len)


def _cost(cover: Cover[Any], closed: int, added: int, price: float) -> Callable[[int], tuple[float, int]]:
    def cost(key: int) -> tuple[float, int]:
        opened = (cover.covers[key] & closed).bit_count()
        return (cover.weight(cover.adds[key] & ~added) + price) / opened, key

    return cost


def _thinned(cover: Cover[Any], chosen: list[int]) -> tuple[int, ...]:
    """Without keys that the others make needless, first the one that adds most."""
    for key in sorted(chosen, key=lambda key: (-cover.weight(cover.adds[key]), key)):
        opened = 0
        for other in chosen:
            opened |= cover.covers[other] if other != key else 0
        if opened == (1 << len(cover.openers)) - 1:
            chosen = [other for other in chosen if other != key]
    return tuple(sorted(chosen))
