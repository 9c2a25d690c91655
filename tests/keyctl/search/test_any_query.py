"""Whatever is typed: an answer, never an error of ours, and nothing that was not asked for."""

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from keyctl.lib.texts import is_text
from keyctl.search.folding import LONGEST_WORD, fold, words_of
from keyctl.search.telling import answer
from tests import factories
from tests.cast import Cast

IN_ONE_TRANSACTION = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
TYPED = st.text(max_size=60) | st.text("%_*'\"\\;-- 01oOilAB.é🚪\u05d0\u0301", max_size=30)


@pytest.fixture
def client_of_locksmith(cast: Cast) -> Client:
    for nth in range(3):
        factories.make_door(cast.north, number=f"{nth}01", name="Café, 100 % full_stop")
    client = Client(raise_request_exception=True)
    client.force_login(cast.locksmith)
    assert answer(cast.locksmith, "100").rows
    return client


@IN_ONE_TRANSACTION
@given(typed=TYPED)
@example(typed="%")
@example(typed="_")
@example(typed="x" * 1_000)
@example(typed="x" * 10_000)
@example(typed="a " * 5_000)
@example(typed="\u202e101")
@example(typed="\x00")
@example(typed="\ud800")
@example(typed="' OR 1=1 --")
@example(typed="🚪🔑")
@example(typed="\u05d3\u05dc\u05ea")
@example(typed="ﷺ" * 60)
def test_every_query_is_answered(client_of_locksmith: Client, typed: str) -> None:
    for target in ("", "spine-hits", "found"):
        headers = {"HX-Request": "true", "HX-Target": target} if target else {}
        # Halves of pairs are no UTF-8 that a browser could send.
        query = {"q": typed.encode("utf-8", "replace").decode()}
        response = client_of_locksmith.get(reverse("search:results"), query, headers=headers)
        # Addresses have an end, far behind that of the field: it is said before anybody looks.
        wanted = {200} if is_text(query["q"]) else {400}
        assert response.status_code in (wanted if len(typed) < 500 else {200, 414})


@IN_ONE_TRANSACTION
@given(typed=TYPED)
@example(typed="%")
@example(typed="___")
@example(typed="*")
def test_every_find_has_what_was_typed(client_of_locksmith: Client, cast: Cast, typed: str) -> None:
    """Signs that steer a database find nothing; short words are forgiven no error but what looks alike."""
    asked = list(words_of(typed))
    rows = answer(cast.locksmith, typed).rows
    if not asked:
        assert rows == []
    for row in rows if all(len(word) < 3 for word in asked) and len(asked) == 1 else ():
        text = fold(f"{row.title} {row.detail}").translate(str.maketrans("oil", "011"))
        assert asked[0].translate(str.maketrans("oil", "011")) in text or row.kind == "door"


@given(text=st.text(max_size=300))
@settings(max_examples=200, deadline=None)
def test_words_are_short_without_signs_and_fold_to_themselves(text: str) -> None:
    for word in words_of(text):
        assert 0 < len(word) <= LONGEST_WORD
        assert " " not in word
        assert list(words_of(word))[:1] == [word]
