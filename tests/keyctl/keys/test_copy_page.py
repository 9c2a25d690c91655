import pytest
from django.test import Client
from django.urls import reverse

from keyctl.cores.models import Core, Turn
from keyctl.keys import services
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, bare_key, count_queries, sign_in


def page_of(client: Client, pk: object) -> str:
    return client.get(reverse("keys:copy", args=[pk])).content.decode()


def test_those_who_care_for_keys_see_it(room: KeyRoom) -> None:
    everybody = allowed("locksmith", "desk", "officer", "auditor", "administrator")
    assert answers(room.cast, "keys:copy", room.in_stock().pk) == everybody


def test_it_shows_the_register_and_the_history(room: KeyRoom, client: Client) -> None:
    copy = services.take_back(actor=room.desk, copy=room.held(), cabinet=room.cabinet)
    page = page_of(sign_in(client, room.desk), copy.pk)
    assert f"handed out copy {copy} of AA1 to {room.holder}" in page
    assert f"took back copy {copy} of AA1" in page
    holder = reverse("keys:holder", args=[room.holder.pk])
    assert f'<td data-label="Holder" class="free-text"><a href="{holder}">' in page


@pytest.mark.parametrize(
    ("person", "state", "acts"),
    [
        ("desk", "in_stock", {"hand-out", "move", "lost", "broken", "destroy"}),
        ("desk", "held", {"take-back", "transfer", "lost", "broken"}),
        ("desk", "lost", {"found"}),
        ("desk", "broken", {"move", "lost", "destroy"}),
        ("desk", "destroyed", set()),
        ("locksmith", "in_stock", {"broken", "destroy"}),
        ("officer", "held", {"lost"}),
        ("auditor", "held", set()),
    ],
)
def test_it_offers_what_the_person_may_do_now(
    room: KeyRoom, client: Client, person: str, state: str, acts: set[str]
) -> None:
    copy = getattr(room, state)()
    page = page_of(sign_in(client, room.cast.everybody[person]), copy.pk)
    every = {"hand-out", "take-back", "transfer", "found", "move", "lost", "broken", "destroy"}
    offered = {act for act in every if f'href="{reverse(f"keys:{act}", args=[copy.pk])}"' in page}
    assert offered == acts


def test_it_names_the_doors_that_the_pins_open(room: KeyRoom, client: Client) -> None:
    door = factories.make_door(room.site, number="X-77")
    core = Core.objects.create(site=room.site, format_id="small-a2-7", construction="small-format")
    Turn.objects.create(core=core, symbol=room.symbol, operates=True, withdraws=False)
    copy = room.in_stock()
    sign_in(client, room.desk)
    assert "it opens none" in page_of(client, copy.pk)
    factories.install(core, factories.make_housing(door=door))
    assert "X-77" in page_of(client, copy.pk)


def test_a_control_key_carries_its_caution(room: KeyRoom, client: Client) -> None:
    control = bare_key(room.symbol.system, "CTR", kind=room.symbol.Kind.CONTROL, level=None)
    copy = factories.make_copy(control, room.cabinet)
    assert "This key takes cores out." in page_of(sign_in(client, room.desk), copy.pk)


def test_the_number_of_queries_does_not_grow_with_the_register(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    sign_in(client, room.desk)
    page = reverse("keys:copy", args=[copy.pk])
    few = count_queries(client, page)
    for _ in range(5):
        room.give(services.take_back(actor=room.desk, copy=copy, cabinet=room.cabinet))
    assert count_queries(client, page) == few
