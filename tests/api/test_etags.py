"""Strong tags, and changes that name the state they were made for (RFC 9110, 8.8.3 and 13; RFC 6585, 3)."""

import re
from typing import Any

import pytest

from keyctl.places.models import Building
from tests.api.client import Api, problem
from tests.api.things import DETAIL, RENAME, ask, body_of
from tests.cast import Cast
from tests.factories import make_floor


@pytest.fixture
def thing(cast: Cast) -> Building:
    return make_floor(cast.north).building


class Reader:
    """A program at one thing."""

    def __init__(self, api: Api, thing: Building) -> None:
        self.bearer, self.thing = api.bearer or "", thing

    def get(self, query: str = "", **headers: Any) -> Any:
        return ask(self.bearer, DETAIL, "GET", pk=self.thing.pk, query=query, **headers)

    def patch(self, body: Any, **headers: Any) -> Any:
        return ask(self.bearer, DETAIL, "PATCH", body, pk=self.thing.pk, **headers)

    def delete(self, **headers: Any) -> Any:
        return ask(self.bearer, DETAIL, "DELETE", pk=self.thing.pk, **headers)

    def name(self) -> str:
        return Building.objects.get(pk=self.thing.pk).name


@pytest.fixture
def reader(api: Api, thing: Building) -> Reader:
    return Reader(api, thing)


def test_a_tag_is_strong_and_stays_while_nothing_changes(reader: Reader) -> None:
    tags = {reader.get()["ETag"] for _ in range(3)}
    assert len(tags) == 1
    assert re.fullmatch(r'"[\x21\x23-\x7e]+"', tags.pop())  # RFC 9110, 8.8.3, without W/


def test_it_changes_with_whatever_the_reader_sees(reader: Reader, thing: Building) -> None:
    first = reader.get()["ETag"]
    Building.objects.filter(pk=thing.pk).update(name="Otherwise")
    second = reader.get()["ETag"]
    Building.objects.filter(pk=thing.pk).update(name=thing.name)
    assert first != second
    assert reader.get()["ETag"] == first


def test_two_things_have_two(api: Api, thing: Building, cast: Cast) -> None:
    other = make_floor(cast.north).building
    assert Reader(api, thing).get()["ETag"] != Reader(api, other).get()["ETag"]


@pytest.mark.parametrize("form", ["{}", '"x", {}', "W/{}", "*", '"x",{} , "y"'])
def test_who_has_it_already_gets_304_without_a_body(reader: Reader, form: str) -> None:
    tag = reader.get()["ETag"]
    response = reader.get(if_none_match=form.format(tag))
    assert (response.status_code, response.content) == (304, b"")
    assert response["ETag"] == tag  # RFC 9110, 15.4.5


def test_who_has_another_gets_the_whole(reader: Reader) -> None:
    assert reader.get(if_none_match='"x"').status_code == 200


def test_fewer_fields_have_a_tag_of_their_own(reader: Reader) -> None:
    whole, part = reader.get(), reader.get("?fields=name")
    assert part["ETag"] != whole["ETag"]
    assert reader.get("?fields=name", if_none_match=whole["ETag"]).status_code == 200
    assert reader.get("?fields=name", if_none_match=part["ETag"]).status_code == 304


def test_a_change_with_the_tag_is_done_and_told_with_the_next(reader: Reader) -> None:
    response = reader.patch({"name": "New"}, if_match=reader.get()["ETag"])
    assert response.status_code == 200
    assert body_of(response)["name"] == reader.name() == "New"
    assert response["ETag"] == reader.get()["ETag"]


def test_a_tag_of_some_fields_stands_for_the_state_of_all(reader: Reader, thing: Building) -> None:
    tag = reader.get("?fields=code")["ETag"]
    Building.objects.filter(pk=thing.pk).update(name="Otherwise")
    problem(reader.patch({"name": "New"}, if_match=tag), 412, "changed-meanwhile")
    tag = reader.get("?fields=code")["ETag"]
    assert reader.patch({"name": "New"}, if_match=tag).status_code == 200


def test_without_a_tag_nothing_is_changed(reader: Reader, thing: Building) -> None:
    for response in (reader.patch({"name": "New"}), reader.delete()):
        problem(response, 428, "tag-missing")
    assert reader.name() == thing.name


def test_an_old_tag_changes_nothing_and_shows_how_it_stands(reader: Reader, thing: Building) -> None:
    old = reader.get()["ETag"]
    Building.objects.filter(pk=thing.pk).update(name="Otherwise")
    for response in (reader.patch({"name": "New"}, if_match=old), reader.delete(if_match=old)):
        told = problem(response, 412, "changed-meanwhile")
        assert told["current"] == body_of(reader.get())
        assert response["ETag"] == reader.get()["ETag"]
    assert reader.name() == "Otherwise"


def test_a_weak_tag_changes_nothing(reader: Reader) -> None:
    """Strong comparison (RFC 9110, 13.1.1)."""
    tag = reader.get()["ETag"]
    problem(reader.patch({"name": "New"}, if_match=f"W/{tag}"), 412, "changed-meanwhile")


@pytest.mark.parametrize("form", ['"x", {}', "*"])
def test_one_of_several_tags_is_enough_and_a_star_is_any_state(reader: Reader, form: str) -> None:
    response = reader.patch({"name": "New"}, if_match=form.format(reader.get()["ETag"]))
    assert response.status_code == 200


@pytest.mark.parametrize("text", ["", "x", "'x'", '"x" "y"', '"x', "**"])
def test_what_is_no_tag_is_told_by_its_header(reader: Reader, text: str) -> None:
    told = problem(reader.patch({"name": "New"}, if_match=text), 400, "invalid")
    assert [error["header"] for error in told["errors"]] == ["If-Match"]


def test_a_refusal_after_a_write_leaves_nothing(reader: Reader, thing: Building) -> None:
    response = reader.patch({"name": "half"}, if_match=reader.get()["ETag"])
    problem(response, 422, "refused")
    assert reader.name() == thing.name


def test_a_foreign_thing_is_not_found_whatever_the_tag(foreign: Api, thing: Building) -> None:
    stranger = Reader(foreign, thing)
    for headers in ({}, {"if_match": "*"}):
        problem(stranger.patch({"name": "New"}, **headers), 404, "not-found")
        problem(stranger.delete(**headers), 404, "not-found")


def test_it_is_removed_with_its_tag(reader: Reader, thing: Building) -> None:
    thing.floors.all().delete()
    assert reader.delete(if_match=reader.get()["ETag"]).status_code == 204
    problem(reader.get(), 404, "not-found")


def test_an_act_with_a_name_of_its_own_is_matched_as_well(api: Api, reader: Reader) -> None:
    def rename(**headers: Any) -> Any:
        return ask(api.bearer or "", RENAME, "POST", {"name": "New"}, pk=reader.thing.pk, **headers)

    problem(rename(), 428, "tag-missing")
    tag = reader.get()["ETag"]
    assert rename(if_match=tag)["ETag"] == reader.get()["ETag"] != tag
    problem(rename(if_match=tag), 412, "changed-meanwhile")


@pytest.mark.parametrize("body", [{}, {"nam": "New"}, {"name": ""}, {"name": "x" * 81}, [], "x"])
def test_facts_are_looked_at_before_the_state(reader: Reader, body: Any) -> None:
    told = reader.patch(body, if_match=reader.get()["ETag"])
    assert told.status_code == (200 if body == {} else 400)


def test_a_parameter_nobody_knows_is_refused_on_a_write_too(reader: Reader) -> None:
    bearer, tag = reader.bearer, reader.get()["ETag"]
    response = ask(bearer, DETAIL, "PATCH", {}, pk=reader.thing.pk, query="?dry=1", if_match=tag)
    assert problem(response, 400, "invalid")["errors"][0]["parameter"] == "dry"
