"""Refusals of `pinning` as the product's own, with every reason as a sentence."""

from collections.abc import Callable, Sequence
from functools import wraps
from typing import ParamSpec, TypeVar

from keyctl.engine.wording import fact_said, say
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from pinning.errors import Refusal
from pinning.errors import Refused as RefusedByPinning
from pinning.wording import Said

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

# What `pinning.fields` tells of a field.
FIELD_FACTS = {"place", "field", "reason"}


class RefusedByEngine(Refused):
    """``fields`` has, reason by reason, the field it is about and what is wrong with it; None and the whole
    sentence where it is about none.
    """

    def __init__(self, message: Text, refusals: Sequence[Refusal]) -> None:
        super().__init__(message, reasons=[say(refusal.message) for refusal in refusals])
        self.fields = [_by_field(refusal.message) for refusal in refusals]


def refusing(summary: Text) -> Callable[[Callable[Given, Answer]], Callable[Given, Answer]]:
    """Turn the package's refusal into the product's, with every reason in the reader's language."""

    def decorate(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
        @wraps(function)
        def guarded(*args: Given.args, **kwargs: Given.kwargs) -> Answer:
            try:
                return function(*args, **kwargs)
            except RefusedByPinning as refused:
                raise RefusedByEngine(summary, refused.refusals) from None

        return guarded

    return decorate


def _by_field(message: str) -> tuple[str | None, str]:
    if not isinstance(message, Said) or message.facts.keys() != FIELD_FACTS:
        return None, say(message)
    return f"{message.facts['place']}, {message.facts['field']}", fact_said(message.facts["reason"])
