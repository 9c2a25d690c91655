"""Two people for one key: whoever decided that somebody gets it (an approved request) says so here, and does
not hand it to them as well, by whatever way it would go."""

from collections.abc import Callable, Sequence

from keyctl.accounts.models import User
from keyctl.keys.models import Holder, KeyCopy

Bar = Callable[[User, Holder, Sequence[KeyCopy]], Sequence[str]]
"""``f(actor, holder, copies)`` gives sentences that say why the actor does not give these to the holder."""

_bars: list[Bar] = []


def add_bar(bar: Bar) -> None:
    _bars.append(bar)


def why_not(actor: User, holder: Holder, copies: Sequence[KeyCopy]) -> list[str]:
    return [sentence for bar in _bars for sentence in bar(actor, holder, copies)]
