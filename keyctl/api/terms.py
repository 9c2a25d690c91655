"""Under which terms an operation is asked, for the published description: views and it read the same."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

Handler = TypeVar("Handler", bound=Callable[..., Any])


@dataclass(frozen=True)
class Terms:
    # A reader may ask for some fields only.
    is_sparse: bool = False
    # The answer carries a tag; a reader who has it is told so.
    is_tagged: bool = False
    # A change names the tag of the state it was made for.
    is_matched: bool = False
    # Whether an Idempotency-Key is taken, or even wanted.
    key: Literal["", "optional", "required"] = ""


def under(terms: Terms) -> Callable[[Handler], Handler]:
    def mark(handler: Handler) -> Handler:
        handler.terms = terms  # type: ignore[attr-defined]
        return handler

    return mark


def terms_of(view: Any) -> Terms:
    found: Terms = getattr(getattr(view, getattr(view, "action", None) or "", None), "terms", Terms())
    return found
