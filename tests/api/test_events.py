"""History for programs: kinds and ids, of their own sites, in the order of the chain."""

import json
from typing import Any

import pytest

from keyctl.audit.models import Event, Link
from keyctl.audit.services import record
from keyctl.places.models import Site
from tests.api.client import Api, problem
from tests.api.estate import NAME, Estate, told
from tests.cast import Cast


def tell(site: Site | None, kind: str, *subjects: Any, sentence: str = "did a thing") -> int:
    """An event as after its commit; its number."""
    made: Event = record(
        actor=None,
        verb=kind,
        sentence=sentence,
        site_id=site and site.pk,
        subjects=subjects,
        detail={"note": "kept to people"},
    )
    told()
    return Link.objects.get(event=made).number


def numbers(api: Api, **query: Any) -> list[int]:
    return [row["number"] for row in api.get("events/", **query).json()["results"]]


def test_an_event_tells_what_happened_to_which_things(api: Api, estate: Estate) -> None:
    number = tell(estate.site, "door.looked_at", estate.door, sentence=f"{NAME} looked")
    answer = api.get(f"events/{number}/")
    facts = answer.json()
    assert facts.pop("at")
    assert facts == {
        "number": number,
        "kind": "door.looked_at",
        "site": str(estate.site.pk),
        "subjects": [{"kind": "places.door", "id": str(estate.door.pk)}],
    }
    assert "looked at" not in json.dumps(facts)


def test_sentences_people_and_notes_stay_out(api: Api, estate: Estate) -> None:
    tell(estate.site, "door.looked_at", estate.door, sentence=f"{NAME} looked")
    text = api.get("events/", limit=200).content.decode()
    assert [words for words in (NAME, "Locksmith", "kept to people", "handed out") if words in text] == []


def test_they_come_in_the_order_of_the_chain_and_none_twice(api: Api, estate: Estate) -> None:
    whole = numbers(api, limit=200)
    answer = api.get("events/", limit=2).json()
    found = answer["results"]
    while answer["next"]:
        answer = api.follow(answer["next"]).json()
        found += answer["results"]
    assert [row["number"] for row in found] == whole == sorted(whole)
    assert len(whole) == Link.objects.filter(event__site_id=estate.site.pk).count() > 6


def test_whoever_asks_after_the_last_number_reads_what_is_new(api: Api, estate: Estate) -> None:
    last = numbers(api, limit=200)[-1]
    assert numbers(api, after=last) == []
    new = tell(estate.site, "door.looked_at", estate.door)
    assert numbers(api, after=last) == [new]


def test_what_is_not_written_for_good_is_not_told(api: Api, estate: Estate) -> None:
    before = numbers(api, limit=200)
    record(actor=None, verb="door.looked_at", sentence="x", site_id=estate.site.pk, subjects=[estate.door])
    assert numbers(api, limit=200) == before


def test_they_are_found_by_kind_and_thing(api: Api, estate: Estate) -> None:
    new = tell(estate.site, "door.looked_at", estate.door, estate.housing)
    assert numbers(api, kind="door.looked_at") == [new]
    assert numbers(api, subject=estate.housing.pk) == [new]
    since = Event.objects.latest("at").at.isoformat()
    assert numbers(api, since=since) == [new]


@pytest.mark.usefixtures("estate")
def test_other_sites_and_what_belongs_to_none_stay_out(api: Api, foreign: Api, cast: Cast) -> None:
    theirs, nobodys = tell(cast.south, "door.looked_at"), tell(None, "job.done")
    assert {theirs, nobodys} & set(numbers(api, limit=200)) == set()
    problem(api.get(f"events/{theirs}/"), 404, "not-found")
    problem(api.get(f"events/{nobodys}/"), 404, "not-found")
    assert theirs in numbers(foreign, limit=200)
