"""What no token and no window on pins may be, for the test that asks the database itself."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.utils import timezone

from keyctl.api.models import KeptAnswer, PinningWindow, Token, Usage
from tests.api.client import make_api
from tests.cast import Cast


def a_token(cast: Cast, **facts: Any) -> Token:
    """As an administrator made it, changed behind its back."""
    make_api(cast.administrator, cast.north)
    token = Token.objects.latest("created_at")
    Token.objects.filter(pk=token.pk).update(**facts)
    return token


def a_window(cast: Cast, **facts: Any) -> None:
    now = timezone.now()
    token = a_token(cast, scopes="pinning:read", networks="192.0.2.7/32")
    given: dict[str, Any] = {"token": token, "made_by": cast.administrator, "opened_by": cast.officer}
    given |= {"opened_at": now, "until": now + timedelta(hours=1), "reason": "Work"}
    PinningWindow.objects.create(**(given | facts))


def two_answers_for_a_key(cast: Cast) -> None:
    token = a_token(cast)
    for _ in range(2):
        KeptAnswer.objects.create(token=token, key="k", request="r", claimed_at=timezone.now())


def two_counts_of_reads(cast: Cast) -> None:
    token = a_token(cast)
    for _ in range(2):
        Usage.objects.create(token=token, kind=Usage.Kind.READS, minute=timezone.now(), count=1)


def two_tokens_of_one_prefix(cast: Cast) -> None:
    a_token(cast, prefix=a_token(cast).prefix)


def a_token_that_ends_as_it_begins(cast: Cast) -> None:
    now = timezone.now()
    a_token(cast, created_at=now, expires_at=now)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "token_prefix_is_unique": two_tokens_of_one_prefix,
    "token_has_a_scope": lambda cast: a_token(cast, scopes=""),
    "token_expires_after_it_was_made": a_token_that_ends_as_it_begins,
    "kept_answer_is_one_for_each_key": two_answers_for_a_key,
    "usage_is_counted_once": two_counts_of_reads,
    "token_for_pins_does_only_that_and_is_bound": lambda cast: a_token(
        cast, scopes="estate:read pinning:read"
    ),
    "nobody_opens_pins_to_a_token_they_made": lambda cast: a_window(cast, opened_by=cast.administrator),
    "window_on_pins_ends": lambda cast: a_window(cast, until=timezone.now() - timedelta(hours=1)),
    "window_on_pins_says_why": lambda cast: a_window(cast, reason=""),
}
