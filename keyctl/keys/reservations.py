"""Copies that are set aside: whoever keeps a copy for somebody (an approved request) says so here."""

from collections.abc import Callable, Mapping, Sequence
from uuid import UUID

from django.db.models import Model

from keyctl.keys.models import KeyCopy

Source = Callable[[Sequence[KeyCopy], Model | None], Mapping[UUID, str]]
"""``f(copies, on_request)`` gives, per copy that is set aside for anything but ``on_request``, a sentence
that says for what, and what to do."""

_sources: list[Source] = []


def add_source(source: Source) -> None:
    _sources.append(source)


def set_aside(copies: Sequence[KeyCopy], on_request: Model | None = None) -> dict[UUID, str]:
    """Why each of the copies cannot be taken for something else; without those that can."""
    return {pk: sentence for source in _sources for pk, sentence in source(copies, on_request).items()}
