"""The pages of people and their lists, as the cast sees them."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.directory.models import MissingPerson, PeopleList
from keyctl.jobs.models import Job
from keyctl.keys.models import Holder, Person
from keyctl.leavers.models import LeaverCase
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.keys.keyroom import KeyRoom, answers, count_queries, sign_in

READERS = {"desk", "officer", "auditor", "administrator"}


def test_people_are_read_at_the_desk_and_by_those_who_watch(cast: Cast) -> None:
    person = Person.objects.create(display_name="Ada Example")
    found = answers(cast, "directory:person", person.pk)
    assert {name for name, status in found.items() if status == 200} == READERS


def test_people_are_found_by_a_part_of_what_is_known(cast: Cast, client: Client) -> None:
    Person.objects.create(display_name="Ada Example", user_name="a1", department="Physics")
    Person.objects.create(display_name="Ben Sample", user_name="b1", department="Law")
    sign_in(client, cast.desk)
    page = client.get(reverse("directory:list"), {"q": "exam phys"}).content.decode()
    assert "Ada Example" in page
    assert "Ben Sample" not in page


def test_keys_of_sites_that_one_may_not_look_at_are_not_told(room: KeyRoom, client: Client) -> None:
    person = Person.objects.create(display_name="Ada Example")
    Holder.objects.filter(pk=room.holder.pk).update(person=person)
    copy = room.held()
    sign_in(client, room.cast.desk)
    assert str(copy) in client.get(reverse("directory:person", args=[person.pk])).content.decode()


def test_the_list_asks_as_much_for_many_as_for_few(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.cast.desk)
    for number in range(3):
        Person.objects.create(display_name=f"Person {number}")
    few = count_queries(client, reverse("directory:list"))
    for number in range(20):
        Person.objects.create(display_name=f"Further {number}")
    assert count_queries(client, reverse("directory:list")) == few


def test_the_desk_lets_a_person_receive_keys(room: KeyRoom, client: Client) -> None:
    person = Person.objects.create(display_name="Ada Example", email="ada@example.org")
    sign_in(client, room.desk)
    client.post(reverse("directory:register", args=[person.pk]), {"site": room.site.pk})
    holder = Holder.objects.get(person=person)
    assert (holder.site, holder.name, holder.email) == (room.site, "Ada Example", "ada@example.org")


def test_a_person_leaves_and_comes_back_on_their_page(keeper: User, room: KeyRoom, client: Client) -> None:
    person = Person.objects.create(display_name="Ada Example")
    Holder.objects.filter(pk=room.holder.pk).update(person=person)
    room.held()
    sign_in(client, keeper)
    page = client.post(reverse("directory:leave", args=[person.pk]), {"note": "Retired"}, follow=True)
    assert "Keys are to come back at" in page.content.decode()
    assert LeaverCase.objects.get().note == "Retired"
    page = client.post(reverse("directory:return", args=[person.pk]), follow=True)
    assert "is here again" in page.content.decode()
    assert LeaverCase.objects.get().outcome == "stays"


@pytest.mark.parametrize("name", ["desk", "administrator"])
def test_who_does_not_administer_every_site_lets_nobody_go(cast: Cast, client: Client, name: str) -> None:
    person = Person.objects.create(display_name="Ada Example")
    sign_in(client, getattr(cast, name))
    assert client.post(reverse("directory:leave", args=[person.pk])).status_code == 403
    assert Person.objects.get().is_active


def test_a_holder_of_the_same_name_is_tied_by_hand(keeper: User, room: KeyRoom, client: Client) -> None:
    person = Person.objects.create(display_name=room.holder.name)
    sign_in(client, keeper)
    page = client.get(reverse("directory:person", args=[person.pk])).content.decode()
    assert "They are the same" in page
    client.post(reverse("directory:tie", args=[person.pk]), {"holder": room.holder.pk})
    room.holder.refresh_from_db()
    assert room.holder.person == person


def test_a_list_goes_from_file_to_decision(keeper: User, client: Client) -> None:
    sign_in(client, keeper)

    def bring(text: str, **facts: str) -> PeopleList:
        file = SimpleUploadedFile("people.csv", text.encode())
        client.post(reverse("directory:bring"), {"file": file, **facts})
        listed = PeopleList.objects.first()
        assert listed
        page = client.get(reverse("directory:list-detail", args=[listed.pk]))
        assert page.status_code == 200
        client.post(reverse("directory:apply", args=[listed.pk]), {"version": listed.version})
        finish(Job.objects.latest("asked_at"))
        return listed

    bring("Name,E-mail\nAda,a@example.org\nBen,b@example.org")
    listed = bring("Name,E-mail\nAda,a@example.org", is_full="on")
    address = reverse("directory:list-detail", args=[listed.pk])
    page = client.get(address).content.decode()
    assert "Is it the right file?" in page
    (row,) = listed.missing.all()
    refused = client.post(reverse("directory:missing", args=[listed.pk]), {"missing": row.pk})
    assert refused.status_code == 422
    assert f'value="{row.pk}" checked' in refused.content.decode()
    client.post(reverse("directory:missing", args=[listed.pk]), {"missing": row.pk, "confirmed": "1"})
    assert MissingPerson.objects.get().state == "left"
    assert Person.objects.get(email="b@example.org").is_active is False


def test_columns_are_chosen_on_a_page(keeper: User, client: Client) -> None:
    sign_in(client, keeper)
    file = SimpleUploadedFile("people.csv", b"Wer,Post\nAda,a@example.org")
    response = client.post(reverse("directory:bring"), {"file": file})
    listed = PeopleList.objects.get()
    assert response.headers["Location"] == reverse("directory:columns", args=[listed.pk])
    said = {"version": listed.version, "has_header": "on", "display_name": "0", "email": "1"}
    client.post(response.headers["Location"], said)
    listed.refresh_from_db()
    assert listed.counts["new"] == 1
