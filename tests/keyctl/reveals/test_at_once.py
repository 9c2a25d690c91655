"""Two looks in the same moment, at the edge of the quota: one is shown."""

from typing import Any

import pytest

from keyctl.keys.reveal import reveal_key
from keyctl.reveals.errors import Missing
from keyctl.reveals.models import Permission, Reveal
from keyctl.reveals.services import ask_for_more, decline, grant, reveal
from tests.cast import Cast
from tests.keyctl.reveals.bench import Bench, looks_of, question, set_up
from tests.permits import permit
from tests.signing import proven
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def ask(bench: Bench) -> Any:
    return reveal(actor=bench.smith, sign_in=proven(bench.smith), wanted=lambda: [question(bench)])


def test_of_two_looks_for_the_last_place_one_is_shown(cast: Cast) -> None:
    bench = set_up(cast)
    bench.limit(alone_an_hour=2, alone_a_day=2)
    ask(bench)
    answers = at_once(*[lambda: ask(bench)] * 4, refusal=Missing)
    assert [isinstance(answer, Missing) for answer in sorted(answers, key=repr)].count(False) == 1
    assert looks_of(bench.smith) == 2


def test_of_two_looks_beyond_the_quota_one_takes_the_last_of_what_was_let_go(cast: Cast) -> None:
    bench = set_up(cast)
    bench.limit(alone_an_hour=1, alone_a_day=1)
    ask(bench)
    asked = ask_for_more(actor=bench.smith, site=bench.site, count=1, reason="One more")
    officer = bench.cast.officer
    grant(actor=officer, permission=asked, sign_in=proven(officer), minutes=30, decision="Yes")
    answers = at_once(*[lambda: ask(bench)] * 3, refusal=Missing)
    assert sum(not isinstance(answer, Missing) for answer in answers) == 1
    assert Reveal.objects.filter(more=asked).count() == 1


def test_of_two_officers_the_first_decides(cast: Cast) -> None:
    bench = set_up(cast)
    second = bench.second()
    asked = ask_for_more(actor=bench.smith, site=bench.site, count=1, reason="One more")
    facts = {"permission": asked, "decision": "As it is"}
    answers = at_once(
        lambda: grant(actor=second, sign_in=proven(second), minutes=30, **facts),  # type: ignore[arg-type]
        lambda: decline(actor=bench.cast.officer, **facts),  # type: ignore[arg-type]
    )
    (decided,) = (answer for answer in answers if isinstance(answer, Permission))
    assert Permission.objects.get().state == decided.state


def test_a_permission_is_first_used_once(cast: Cast) -> None:
    """Both looks are shown; the quarter of an hour runs from one moment."""
    bench = set_up(cast)
    key = bench.key("A")
    permit("key", key, to=bench.smith, by=cast.officer)
    at_once(
        *[lambda: reveal_key(actor=bench.smith, symbol=key, sign_in=proven(bench.smith))] * 2, refusal=Missing
    )
    first, second = Reveal.objects.order_by("at")
    permission = Permission.objects.get()
    assert (first.permission, second.permission) == (permission, permission)
    assert permission.used_at == first.at
