"""The pages of rotations, by what they say and what their forms do."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.cores.models import Core
from keyctl.cores.services import dispute_cores
from keyctl.jobs.models import Job
from keyctl.prints.sheets.waves import print_wave_sheet, wave_sheet
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor
from keyctl.rotations.services import with_old_pins
from tests.jobs import finish
from tests.keyctl.prints.reading import cells_of, faults_of
from tests.keyctl.rotations.yard import NEW, Yard, fresh


@pytest.fixture
def smith(yard: Yard, client: Client) -> Client:
    client.force_login(yard.cast.locksmith)
    return client


def text_of(answer: Any, status: int = 200) -> str:
    text: str = answer.content.decode()
    assert answer.status_code == status, text
    return text


def url(name: str, thing: Any) -> str:
    return reverse(f"rotations:{name}", args=[thing.pk])


def post(client: Client, name: str, rotation: Rotation, **facts: Any) -> str:
    facts = {"version": fresh(rotation).version} | facts
    return text_of(client.post(url(name, rotation), facts, follow=True))


def test_a_rotation_is_started_in_two_pages(yard: Yard, smith: Client) -> None:
    first = text_of(smith.get(reverse("rotations:new")))
    assert str(yard.floors[0].building) in first
    place = f"{reverse('rotations:new-keys')}?site={yard.cast.north.pk}"
    place += "".join(f"&building={floor.building.pk}" for floor in yard.floors)
    second = text_of(smith.get(place))
    code = yard.system.code
    assert f"{code} AA1 = {code} AA4" in second
    lines = "\n".join(f"{code}  {old} = {code} {new}" for old, new in NEW.items())
    facts = {"title": "West", "keys": lines, "people": 2, "hours_a_day": 7, "bench_minutes": 8, "spares_0": 2}
    answer = smith.post(place, facts)
    assert answer.status_code == 302, answer.content.decode()
    finish(Job.objects.get())
    rotation = Rotation.objects.get()
    assert (rotation.title, rotation.people, rotation.waves.count()) == ("West", 2, 3)
    assert "Accept the plan" in text_of(smith.get(url("detail", rotation)))


def test_a_line_that_names_no_key_is_told_with_what_was_typed(yard: Yard, smith: Client) -> None:
    place = f"{reverse('rotations:new-keys')}?door={yard.housings[0].door_id}"
    code = yard.system.code
    facts = {"title": "West", "keys": f"{code} AA1 = {code} ZZ9", "spares_0": 1}
    page = text_of(smith.post(place, facts), 422)
    assert f"There is no key “{code} ZZ9” at this site." in page
    assert "ZZ9</textarea>" in page


def test_each_step_is_offered_when_it_is_due(yard: Yard, smith: Client) -> None:
    rotation = yard.start()
    assert "Work the waves out" in text_of(smith.get(url("detail", rotation)))
    yard.plan(rotation)
    assert "Begin the first wave" in post(smith, "accept", rotation)
    assert "Wave 1: pin the cores" in post(smith, "begin", rotation)
    wave = rotation.waves.get(state="begun")
    yard.pin(wave)
    assert "Wave 1: swap the cores" in text_of(smith.get(url("detail", rotation)))
    for door in wave.doors.all():
        yard.swap(door, put_at="case")
    page = text_of(smith.get(url("detail", rotation)))
    assert "Bring cores back" in page
    assert "Who carries two keys" in page
    tags = list(RotationCore.objects.filter(state="coming_back").values_list("core__tag", flat=True))
    back = smith.post(url("cores", rotation), {"tags": tags[0], "tag": tags[1:]}, follow=True)
    assert "Back at the bench: 2." in text_of(back)
    assert "Begin wave 2" in text_of(smith.get(url("detail", rotation)))


def test_the_progress_alone_is_asked_for_anew(yard: Yard, smith: Client) -> None:
    rotation = yard.accepted()
    piece = text_of(smith.get(url("detail", rotation), headers={"HX-Request": "true"}))
    assert "0 of 6 doors done" in piece
    assert "<form" not in piece


def test_a_refusal_stands_on_the_page(yard: Yard, smith: Client) -> None:
    rotation = yard.accepted()
    answer = smith.post(url("pause", rotation), {"version": 99})
    assert "has changed since you looked at it" in text_of(answer, 422)


def test_doors_are_found_by_wave_state_and_number(yard: Yard, smith: Client) -> None:
    rotation = yard.accepted()
    number = yard.housings[0].door.number
    page = text_of(smith.get(url("doors", rotation), {"q": number, "state": "waiting"}))
    assert str(yard.housings[0]) in page
    assert str(yard.housings[3]) not in page
    assert "No such door" in text_of(smith.get(url("doors", rotation), {"wave": "9"}))


def test_a_door_is_told_unreached_or_left_out_on_its_page(yard: Yard, smith: Client) -> None:
    rotation = yard.accepted()
    first, second = yard.begin(rotation).doors.all()
    smith.post(url("door", first), {"reason": "In use", "unreached": "1"})
    smith.post(url("door", second), {"reason": "Walled up", "leave-out": "1"})
    states = dict(RotationDoor.objects.exclude(reason="").values_list("reason", "state"))
    assert states["In use"] == "unreached"
    assert states["Walled up"] == "left_out"


def test_the_sheet_of_a_wave_names_each_door_and_its_core_and_no_key(yard: Yard) -> None:
    rotation = yard.accepted()
    wave = yard.begin(rotation)
    sheet = wave_sheet(wave)
    told = {door.door: door.core_in for house in sheet.houses for door in house.doors}
    rows = wave.doors.select_related("housing__door", "meant")
    assert told == {row.housing.door.number: str(row.meant) for row in rows}
    assert not any(new in str(sheet) for new in NEW.values())
    printed = print_wave_sheet(actor=yard.cast.locksmith, wave=wave)
    assert faults_of(printed) == []
    assert {row[1].split()[0]: row[3] for row in cells_of(printed) if row[0] != "Floor"} == told


def test_a_manager_reads_and_does_nothing(yard: Yard, client: Client) -> None:
    rotation = yard.accepted()
    client.force_login(yard.cast.manager)
    assert "rotations/" in text_of(client.get(reverse("rotations:list")))
    assert "Cancel the rotation" not in text_of(client.get(url("detail", rotation)))
    assert client.post(url("begin", rotation), {"version": 1}).status_code == 403


def test_cores_left_over_with_old_pins_are_emptied_at_the_end(yard: Yard, smith: Client) -> None:
    rotation = yard.all_waves(yard.accepted())
    assert "2 cores of the rotation are in hand" in text_of(smith.get(url("detail", rotation)))
    page = text_of(smith.post(url("empty", rotation), follow=True))
    assert "Emptied in the records: 2." in page
    assert "still pinned to an old key" not in page


def test_a_disputed_core_keeps_no_other_from_being_emptied(yard: Yard, smith: Client) -> None:
    rotation = yard.all_waves(yard.accepted())
    disputed = with_old_pins(rotation)[0].core
    dispute_cores(cores=[disputed.pk], over="case 1")
    assert "Emptied in the records: 1." in text_of(smith.post(url("empty", rotation), follow=True))
    assert Core.objects.get(pk=disputed.pk).is_pinned


def test_the_crew_and_the_time_are_set_and_the_plan_follows(yard: Yard, smith: Client) -> None:
    rotation = yard.accepted()
    facts = {"allowed_days": 1, "people": 1, "hours_a_day": 1, "bench_minutes": 200, "set": "1"}
    post(smith, "terms", rotation, **facts)
    rotation = yard.plan(fresh(rotation))
    assert "longer than the 1 days allowed" in rotation.plan_words
    assert "longer than the 1 days allowed" in text_of(smith.get(url("detail", rotation)))
