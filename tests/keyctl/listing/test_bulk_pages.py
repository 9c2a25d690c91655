"""Acts on many rows on their pages: choosing, looking, doing, undoing; long ones by a job."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.jobs.models import Job
from keyctl.listing.models import BulkAct
from keyctl.places.models import Door
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.keys.keyroom import count_queries
from tests.keyctl.listing.acting import begun, done


def begin(client: Client, **sent: Any) -> str:
    answer = client.post("/lists/doors/begin/", {"act": "hardware", "which": "ticked"} | sent)
    return str(answer.headers["Location"])


def page_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_rows_are_ticked_tried_changed_and_undone(client: Client, cast: Cast) -> None:
    doors = [factories.make_door(cast.north, hardware_set=text) for text in ("HW-1", "HW-2", "")]
    client.force_login(cast.locksmith)
    assert f'value="{doors[0].pk}" form="bulk-doors"' in page_of(client, "/estate/")
    address = begin(client, rows=[str(door.pk) for door in doors[:2]])
    assert "2 rows are chosen" in page_of(client, address)
    client.post(f"{address}try/", {"hardware_set": "HW-2"})
    page = page_of(client, address)
    assert "Would change: 1" in page
    assert "Stays as it is: 1" in page
    assert "Change this one row" in page
    client.post(f"{address}do/")
    assert set(Door.objects.values_list("hardware_set", flat=True)) == {"HW-2", ""}
    assert "Undo this one row" in page_of(client, address)
    client.post(f"{address}undo/")
    assert sorted(Door.objects.values_list("hardware_set", flat=True)) == ["", "HW-1", "HW-2"]
    assert "Undone: 1" in page_of(client, address)


def test_all_that_match_keeps_to_the_filter_of_the_page(client: Client, cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    for nth in range(4):
        factories.make_door(floor=floor, number=f"D{nth}", name="Lab" if nth else "Store")
    client.force_login(cast.locksmith)
    back = re.search(r'name="back" value="([^"]*)"', page_of(client, "/estate/?q=lab"))
    assert back
    begin(client, which="all", back=back[1])
    assert BulkAct.objects.get().rows.count() == 3


def test_nothing_ticked_says_what_to_do(client: Client, cast: Cast) -> None:
    factories.make_door(cast.north)
    client.force_login(cast.locksmith)
    answer = client.post("/lists/doors/begin/", {"act": "hardware", "which": "ticked"}, follow=True)
    assert "Tick the rows" in answer.content.decode()


def test_an_act_is_its_persons_own(client: Client, cast: Cast) -> None:
    bulk = done(cast.locksmith, "doors", "hardware", [factories.make_door(cast.north)], hardware_set="X")
    client.force_login(cast.administrator)
    assert client.get(f"/lists/acts/{bulk.pk}/").status_code == 404
    for step in ("try", "do", "undo", "drop"):
        assert client.post(f"/lists/acts/{bulk.pk}/{step}/").status_code == 404


def test_who_may_do_nothing_is_offered_nothing(client: Client, cast: Cast) -> None:
    factories.make_door(cast.north)
    client.force_login(cast.auditor)
    page = page_of(client, "/estate/")
    assert "Many rows at once" not in page
    assert 'type="checkbox"' not in page
    assert client.post("/lists/doors/begin/", {"act": "hardware", "which": "all"}).status_code == 403


def test_requests_say_why_they_are_decided_one_by_one(client: Client, cast: Cast) -> None:
    client.force_login(cast.manager)
    assert client.post("/lists/requests/begin/", {"act": "approve", "which": "all"}).status_code == 302
    assert not BulkAct.objects.exists()


@pytest.mark.django_db
def test_many_rows_go_through_the_queue_and_the_job_may_stop_and_go_on(client: Client, cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    Door.objects.bulk_create(Door(floor=floor, number=f"Q{nth}") for nth in range(130))
    client.force_login(cast.locksmith)
    bulk = begun(cast.locksmith, "doors", "hardware", None)
    client.post(f"/lists/acts/{bulk.pk}/try/", {"hardware_set": "HW-9"})
    assert "It is at work" in page_of(client, f"/lists/acts/{bulk.pk}/")
    finish(Job.objects.get())
    assert "Change these 130 rows" in page_of(client, f"/lists/acts/{bulk.pk}/")
    client.post(f"/lists/acts/{bulk.pk}/do/")
    job = finish(Job.objects.exclude(state="done").get())
    assert job.state == Job.State.DONE
    assert Door.objects.filter(hardware_set="HW-9").count() == 130


@pytest.mark.django_db
def test_a_long_act_of_somebody_without_a_role_is_forbidden(client: Client, cast: Cast) -> None:
    floor = factories.make_floor(cast.north)
    Door.objects.bulk_create(Door(floor=floor, number=f"Q{nth}") for nth in range(101))
    bulk = begun(cast.locksmith, "doors", "hardware", None)
    cast.locksmith.memberships.all().delete()
    client.force_login(cast.locksmith)
    assert client.post(f"/lists/acts/{bulk.pk}/try/", {"hardware_set": "HW-9"}).status_code == 403
    assert not Job.objects.exists()


def test_the_pages_ask_as_often_for_few_rows_as_for_many(client: Client, cast: Cast) -> None:
    client.force_login(cast.locksmith)
    floor, asked = factories.make_floor(cast.north), []
    for number in (2, 18):
        Door.objects.bulk_create(Door(floor=floor, number=f"{number}-{nth}") for nth in range(number))
        bulk = begun(cast.locksmith, "doors", "hardware", None)
        asked.append(
            [
                count_queries(client, "/estate/"),
                count_queries(client, "/estate/?sort=-room"),
                count_queries(client, f"/lists/acts/{bulk.pk}/"),
                count_queries(client, "/lists/doors/views/"),
            ]
        )
    assert asked[0] == asked[1]


@pytest.mark.parametrize("gone", [{"list_name": "no-such-list"}, {"act": "no-such-act"}])
def test_an_act_that_the_product_no_longer_has_is_not_found(
    client: Client, cast: Cast, gone: dict[str, str]
) -> None:
    bulk = begun(cast.locksmith, "doors", "hardware", [factories.make_door(cast.north)])
    client.force_login(cast.locksmith)
    page = reverse("listing:act", args=[bulk.pk])
    assert client.get(page).status_code == 200
    BulkAct.objects.filter(pk=bulk.pk).update(**gone)
    assert client.get(page).status_code == 404
