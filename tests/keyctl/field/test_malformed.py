"""Whatever arrives as an event is answered, with the place of its fault; none of it is an error of ours."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyctl.field.models import FieldEvent, RejectedEvent
from keyctl.field.parsing import Malformed, read_event
from tests.keyctl.field.fieldroom import House, Tablet

SOME_ID = "3f2504e0-4f89-41d3-9a0c-0305e82c3301"
JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats(allow_nan=False)
    | st.text(st.characters(exclude_categories=()), max_size=12)
    | st.sampled_from([SOME_ID, "2030-01-01T00:00:00Z", "shelf", "case", "\x00", "\ud800"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
PLACES = ("event_id", "sequence", "kind", "claimed_at", "person", "body")


def bodies(house: House, tablet: Tablet) -> list[dict[str, Any]]:
    """A good event of each kind."""
    door, line = str(house.housing.door.pk), SOME_ID
    return [
        tablet.swapped(house.housing, house.spare, house.inside),
        tablet.put(house.spare),
        tablet.found(house.housing, house.inside),
        tablet.event("unreached", line=line, reason="Locked off"),
        tablet.event("checked", line=line, items={"turns": "good"}, note=""),
        tablet.event("noted", door=door, line=None, text="Squeaks"),
        tablet.event("photographed", door=door, line=None, photo=SOME_ID, sha256="0" * 64, caption=""),
    ]


def test_each_kind_is_read(house: House, tablet: Tablet) -> None:
    for event in bodies(house, tablet):
        told = read_event(event)
        assert (told.kind, str(told.event_id)) == (event["kind"], event["event_id"])


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        ("event_id", "7", "event_id must be a UUID."),
        ("event_id", 7, "event_id must be a text."),
        ("sequence", 0, "sequence must be a whole number from 1"),
        ("sequence", True, "sequence must be a whole number"),
        ("sequence", 2**31, "sequence must be a whole number"),
        ("sequence", 1.5, "sequence must be a whole number"),
        ("kind", "danced", "kind must be one of swapped, put"),
        ("claimed_at", "2030-01-01", "claimed_at must say its offset"),
        ("claimed_at", "9999-12-31T23:59:59-23:59", "claimed_at must lie between"),
        ("claimed_at", "0001-01-01T00:00:00+23:59", "claimed_at must lie between"),
        ("claimed_at", "yesterday", "claimed_at must be a time"),
        ("body", None, "body/ must be an object."),
        ("body/core", "", "body/core must be the tag"),
        ("body/core", "x" * 201, "body/core must be the tag"),
        ("body/core", "A\x00B", "body/core holds signs that are no text."),
        ("body/core", "\ud800", "body/core holds signs that are no text."),
        ("body/core_version", -1, "body/core_version must be a whole number"),
        ("body/place", "housing", "body/place must be one of shelf, bench, case, gone."),
        ("body/more", [[[[[[[0]]]]]]], "nested too deep"),
        ("body/more", float("inf"), "body/more is no number."),
        ("body/more", "x" * 33_000, "longer than"),
    ],
)
def test_a_fault_is_told_with_its_place(
    house: House, tablet: Tablet, place: str, value: Any, words: str
) -> None:
    event = tablet.put(house.spare)
    *way, name = place.split("/")
    (event["body"] if way else event)[name] = value
    with pytest.raises(Malformed, match=words):
        read_event(event)


def test_what_is_missing_is_named(house: House, tablet: Tablet) -> None:
    """Each member of each kind; what may be left out is read as none."""
    may_be_left_out = {
        "line",
        "note",
        "core_in_version",
        "core_out_version",
        "core_version",
        "caption",
        "door",
    }
    for event in bodies(house, tablet):
        for name in PLACES:
            with pytest.raises(Malformed, match=name):
                read_event({key: value for key, value in event.items() if key != name})
        for name in set(event["body"]) - may_be_left_out:
            body = {key: value for key, value in event["body"].items() if key != name}
            with pytest.raises(Malformed, match=f"body/{name} is missing"):
                read_event(event | {"body": body})


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(data=st.data())
def test_nothing_that_is_sent_is_an_error_of_ours(house: House, tablet: Tablet, data: st.DataObject) -> None:
    """Good events with one place broken, and whatever else is JSON; each is answered and kept or known."""
    good = data.draw(st.sampled_from(bodies(house, tablet)))
    broken = data.draw(st.sampled_from([*PLACES, *(f"body/{name}" for name in good["body"])]))
    *way, name = broken.split("/")
    changed = good | {"body": dict(good["body"])}
    (changed["body"] if way else changed)[name] = data.draw(JSON)
    sent = [changed, data.draw(JSON)]

    answers = tablet.send(*sent)

    assert len(answers) == 2
    assert {str(answer.outcome) for answer in answers} <= {
        "applied",
        "duplicate",
        "accepted_with_conflict",
        "rejected",
    }
    assert all("did not expect" not in answer.reason for answer in answers)
    for answer in answers:
        if answer.outcome == "rejected":
            assert RejectedEvent.objects.filter(event_id=answer.event_id, reason=answer.reason).exists()
        else:
            assert answer.event_id
            assert FieldEvent.objects.filter(pk=answer.event_id).exists()
