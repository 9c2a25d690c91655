"""Making a shop's own format: what is stored, and what is refused in words."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl import engine
from keyctl.audit.selectors import history_of
from keyctl.formats.models import ShopFormat
from keyctl.formats.selectors import offered_formats
from keyctl.lib.errors import Conflict, Refused
from tests.cast import Cast
from tests.keyctl.formats.shop import TEN_IS_NOUGHT, built_in, make


def reasons(refused: pytest.ExceptionInfo[Refused]) -> str:
    return " ".join(refused.value.sentences)


def test_the_engine_loads_it_with_every_parameter(cast: Cast) -> None:
    make(cast.administrator, "own-one", name="Own one")
    loaded = engine.format_parameters(engine.load_format("own-one"))
    assert {name: loaded[name] for name in TEN_IS_NOUGHT} == TEN_IS_NOUGHT
    assert (loaded["id"], loaded["name"], loaded["construction"]) == ("own-one", "Own one", "large-format")


def test_it_is_offered_beside_the_formats_of_the_package(cast: Cast) -> None:
    make(cast.administrator, "own-one", name="Own one")
    assert ("own-one", "Own one") in offered_formats()
    assert set(engine.format_names()) < set(offered_formats())


def test_its_making_is_written_down(cast: Cast) -> None:
    (event,) = history_of(make(cast.administrator, "own-one", name="Own one"))
    assert (event.verb, event.actor) == ("format.made", cast.administrator)
    assert event.sentence == "made the core format Own one (own-one)"


@pytest.mark.parametrize("who", ["locksmith", "desk", "manager", "officer", "auditor", "requester"])
def test_only_an_administrator_makes_one(cast: Cast, who: str) -> None:
    with pytest.raises(PermissionDenied):
        make(cast.everybody[who], "own-one")
    assert not ShopFormat.objects.exists()


def test_who_belongs_to_no_site_finds_no_formats(cast: Cast) -> None:
    cast.administrator.memberships.all().delete()
    with pytest.raises(Http404):
        make(cast.administrator, "own-one")


@pytest.mark.parametrize("taken", ["small-a2-7", "own-one", "new"])
def test_it_refuses_an_id_that_is_taken(cast: Cast, taken: str) -> None:
    make(cast.administrator, "own-one")
    with pytest.raises(Refused) as refused:
        make(cast.administrator, taken, name="Another name")
    assert f"'{taken}' is taken; choose another one" in reasons(refused)


@pytest.mark.parametrize("odd", ["", "Own-one", "own one", "own_one", "-own", "own-", "x" * 41, "ö"])
def test_it_refuses_an_id_that_is_no_slug(cast: Cast, odd: str) -> None:
    with pytest.raises(Refused, match="not made") as refused:
        make(cast.administrator, odd, name="A name")
    assert "small letters and digits" in reasons(refused)


@pytest.mark.parametrize("name", ["Invented own-one", "invented OWN-ONE", "", "  "])
def test_it_refuses_a_name_that_does_not_tell_it_apart(cast: Cast, name: str) -> None:
    make(cast.administrator, "own-one")
    with pytest.raises(Refused) as refused:
        make(cast.administrator, "own-two", name=name)
    assert "name" in reasons(refused) or "called" in reasons(refused)


def test_it_refuses_an_unknown_construction(cast: Cast) -> None:
    with pytest.raises(Refused) as refused:
        make(cast.administrator, "own-one", construction="magnetic")
    assert "'magnetic' is no known construction; choose one of these" in reasons(refused)


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"positions": 0}, "positions: a number from 1 to 16"),
    ({"depths": "1123456789"}, "depths: a symbol stands for two depths"),
    ({"depth_values": [1, 2]}, "depth_values: 10 numbers are expected"),
    ({"increment_in": -1}, "increment_in: a length in inches"),
    ({"total": {"plain": 12}}, "total: give `sleeve`"),
    ({"drivers": [{"from": 0, "to": 12, "pin": 1}]}, "a plain total is given too"),
    ({"control": {"kind": "sleeve", "positions": [9], "addition": 11}}, "a position above 5"),
    ({"colour": 1}, "'colour' is no field"),
]


@pytest.mark.parametrize(("change", "sentence"), WRONG)
def test_it_refuses_parameters_that_make_no_format(cast: Cast, change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refused) as refused:
        make(cast.administrator, "own-one", parameters=TEN_IS_NOUGHT | change)
    assert sentence in reasons(refused)
    assert not ShopFormat.objects.exists()


def test_it_hears_every_reason_at_once(cast: Cast) -> None:
    with pytest.raises(Refused) as refused:
        make(cast.administrator, "own-one", parameters=TEN_IS_NOUGHT | {"positions": 99, "step": 0})
    assert len(refused.value.reasons) == 2


def test_cuts_that_cannot_be_built_are_no_refusal(cast: Cast) -> None:
    pins = TEN_IS_NOUGHT["pins"] | {"control": [1]}
    made = make(cast.administrator, "own-one", parameters=TEN_IS_NOUGHT | {"pins": pins})
    assert made.parameters["pins"]["control"] == [1]


def test_a_copy_of_a_format_of_the_package_has_its_figures(cast: Cast) -> None:
    make(cast.administrator, "own-a2", parameters=built_in("small-a2-7"), construction="small-format")
    kept = engine.format_parameters(engine.load_format("own-a2"))
    named = {"id": "own-a2", "name": "Invented own-a2"}
    assert kept == built_in("small-a2-7") | named


def test_a_made_format_is_never_edited(cast: Cast) -> None:
    made = make(cast.administrator, "own-one")
    made.parameters = built_in("small-a2-7")
    for facts in ({}, {"update_fields": ["parameters"]}):
        with pytest.raises(TypeError, match="copy it under a new id"):
            made.save(**facts)


@pytest.mark.parametrize("field", ["format_id", "name"])
def test_the_database_refuses_a_second_of_the_same_name(cast: Cast, field: str) -> None:
    first = make(cast.administrator, "own-one")
    facts = {"format_id": "own-two", "name": "Two", "construction": "ordinary", "parameters": {}}
    facts |= {field: getattr(first, field)}
    with pytest.raises(IntegrityError), transaction.atomic():
        ShopFormat.objects.create(made_by=cast.administrator, **facts)


def test_of_two_who_take_the_same_id_at_once_the_second_is_told(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if the first were stored right after the second had looked."""
    make(cast.administrator, "own-one")
    monkeypatch.setattr("keyctl.formats.services.wrong_id", lambda _: None)
    with pytest.raises(Conflict, match="Somebody else has just made"):
        make(cast.administrator, "own-one", name="Another name")
    assert ShopFormat.objects.count() == 1


def test_a_format_of_the_package_needs_no_question_to_the_database() -> None:
    assert engine.load_format("small-a2-7").positions == 7
