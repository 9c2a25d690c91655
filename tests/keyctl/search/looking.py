"""What a person finds, by the page's own way; on PostgreSQL nothing waits, for triggers note at once."""

from typing import Any
from uuid import UUID

from keyctl.accounts.models import User
from keyctl.search.telling import Told, answer


def found(actor: User, typed: str) -> list[Told]:
    return answer(actor, typed).rows


def things(actor: User, typed: str) -> list[UUID]:
    return [row.thing for row in found(actor, typed)]


def first(actor: User, typed: str) -> UUID | None:
    return next(iter(things(actor, typed)), None)


def finds(actor: User, typed: str, thing: Any) -> bool:
    return thing.pk in things(actor, typed)
