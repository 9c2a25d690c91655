"""What a reading of a core or a key leaves open. A doubt printed by accident shows no cuts."""

from dataclasses import dataclass, field

from pinning.columns import PinStack

__all__ = ["Doubt"]


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that was read and cannot be quite right, or can mean several things.

    `alternatives` holds, the likeliest first, sound stacks for that position where pins were read, and depth
    symbols where cuts were. `what` is a code; the readers list theirs.
    """

    position: int
    what: str
    message: str = field(repr=False)
    alternatives: tuple[PinStack | str, ...] = field(repr=False)
