"""The keys of a design as entries to store."""

from collections.abc import Iterator, Sequence

from keyctl import engine
from keyctl.systems.models import KeySymbol
from keyctl.systems.services.storing import NewKey

Kind = KeySymbol.Kind


def entries_of(design: engine.Design, children: Sequence[int]) -> Iterator[NewKey]:
    """The control key, then every key of the tree, each after its master."""
    if design.control is not None:
        yield NewKey(engine.CONTROL, Kind.CONTROL, design.control)
    line: list[str] = []
    for key in design.keys(children):
        level = len(key.path)
        line[level:] = [key.symbol]
        yield NewKey(
            key.symbol,
            Kind.CHANGE if level == len(children) else Kind.MASTER,
            key.bitting,
            line[level - 1] if level else None,
            level,
            key.path[-1] if key.path else 0,
            key.room,
        )


def count_of(needs: Sequence[int], *, has_control: bool) -> int:
    """How many keys a system has that gives every key its full number below."""
    total, level = 1 + has_control, 1
    for need in needs:
        level *= need
        total += level
    return total
