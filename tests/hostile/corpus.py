"""The hostile files: made from a seed, never stored. KEYCTL_HOSTILE=n makes n, KEYCTL_HOSTILE_SEED others."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random

from tests.hostile import bodies, lists, photos, workbooks

COUNT = int(os.environ.get("KEYCTL_HOSTILE", "2000"))
SEED = int(os.environ.get("KEYCTL_HOSTILE_SEED", "7"))
Makers = tuple[Callable[[Random], bytes], ...]
# In hundreds of the whole: what is taken in, by what makes it.
SHARES: tuple[tuple[str, Makers, int], ...] = (
    ("list", workbooks.MAKERS, 40),
    ("list", lists.MAKERS, 25),
    ("photo", photos.MAKERS, 15),
    ("json", bodies.MAKERS, 20),
)


@dataclass(frozen=True)
class HostileFile:
    """``name`` says how to make it again."""

    kind: str
    name: str
    content: bytes = field(repr=False)


def hostile_files(kind: str, count: int = COUNT, salt: str = "") -> Iterator[HostileFile]:
    """The files of one kind among ``count`` of all; each maker has its turn."""
    for each, makers, share in SHARES:
        if each == kind:
            for number in range(count * share // 100):
                maker = makers[number % len(makers)]
                name = f"{maker.__module__.rpartition('.')[2]}.{maker.__name__}:{SEED}{salt}:{number}"
                yield HostileFile(kind, name, maker(Random(name)))
