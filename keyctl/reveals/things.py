"""What can be shown to a person: one thing, in words, and how it is opened.

Apps above register how a thing is found by its kind and identifier, so that the pages here can be asked
about it.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar
from uuid import UUID

from django.db.models import Model
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.grounds import Ground

Seen = TypeVar("Seen")


@dataclass(frozen=True)
class Secret(Generic[Seen]):
    """A bitting, pins, or what follows from them. ``open`` is called by the gate alone."""

    kind: str
    thing: Model
    # After "to see": "the pins of core B4K2", in English: ``wording`` has its text. Never a bitting.
    words: str
    # Where it belongs; the first one is where a second person is asked.
    sites: tuple[Site, ...]
    open: Callable[[], Seen] = field(repr=False)
    verb: str
    url: str
    roles: tuple[Role, ...] = (Role.LOCKSMITH,)
    # A master, a control key, or what is as good as one: a second person, always.
    is_high: bool = False
    # It answers about what the person holds already, and shows nothing that is stored.
    is_question: bool = False
    # Work that the caller holds in hand; else the registered sources are asked.
    ground: Ground | None = None
    # What history says instead of "looked at …" and the ground.
    sentence: str = ""
    # Further things that history names with it.
    about: tuple[Model, ...] = ()


Find = Callable[[User, UUID], Secret[Any]]

_finders: dict[str, Find] = {}


def register_kind(kind: str, find: Find) -> None:
    """``find`` fetches through permission: 404 for a stranger, 403 for a role that does not suffice."""
    _finders[kind] = find


def find_thing(actor: User, kind: str, pk: UUID) -> Secret[Any]:
    if kind not in _finders:
        raise Http404
    return _finders[kind](actor, pk)


def nothing() -> None:
    """How a thing is opened that only stands for something: an export, a site's quota."""
