"""Refusals of `pinning` as the product's own, with every reason as a sentence."""

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from keyctl.lib.errors import Refused
from keyctl.lib.language import Text
from pinning.errors import Refused as RefusedByPinning

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def refusing(summary: Text) -> Callable[[Callable[Given, Answer]], Callable[Given, Answer]]:
    """Turn the package's refusal into the product's, with every reason as a sentence."""

    def decorate(function: Callable[Given, Answer]) -> Callable[Given, Answer]:
        @wraps(function)
        def guarded(*args: Given.args, **kwargs: Given.kwargs) -> Answer:
            try:
                return function(*args, **kwargs)
            except RefusedByPinning as refused:
                reasons = [refusal.message for refusal in refused.refusals]
                raise Refused(summary, reasons=reasons) from None

        return guarded

    return decorate
