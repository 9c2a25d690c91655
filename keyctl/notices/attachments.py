"""Papers that go with a message. They are made when it is sent, so that no copy waits in the database."""

from collections.abc import Callable
from uuid import UUID

# Name of the file, its content type, its content.
Paper = tuple[str, str, bytes]
Maker = Callable[[UUID], Paper]

_makers: dict[str, Maker] = {}


def register_attachment(kind: str, maker: Maker) -> None:
    """``maker`` makes the paper of the row with that identifier; it may refuse with a sentence."""
    _makers[kind] = maker


def find_maker(kind: str) -> Maker | None:
    return _makers.get(kind)
