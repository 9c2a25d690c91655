"""Each person and each thing of an estate of two sites: found exactly where its page opens, never otherwise.

The reference is the pages themselves, asked by the test client for everybody and everything.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.approvals.services import ask_for_key
from keyctl.keys.models import Holder, Person
from keyctl.places.models import BuildingManager, Door, Identifier, Membership, Site
from keyctl.places.roles import Role
from keyctl.search.telling import answer
from tests import factories
from tests.api.estate import Estate, build
from tests.cast import Cast


@dataclass(frozen=True)
class Thing:
    kind: str
    row: Any
    # By which it is looked for: its number, its tag, its name.
    typed: str
    page: str


def things_of(estate: Estate, asked: Any, person: Person) -> Iterator[Thing]:
    door, core, copy, key = estate.door, estate.core, estate.copy, estate.key
    yield Thing("door", door, door.tag, reverse("cores:door", args=[door.pk]))
    yield Thing("space", estate.space, estate.space.number, reverse("places:space", args=[estate.space.pk]))
    building = door.building
    # The page of the estate answers everybody and leaves out what is foreign; its chart does not.
    page = reverse("cores:building-chart", args=[building.pk])
    yield Thing("building", building, building.code, page)
    yield Thing("core", core, core.tag, reverse("cores:detail", args=[core.pk]))
    yield Thing("key", key, f"{key.symbol} {estate.system.code}", reverse("cores:symbol", args=[key.pk]))
    system = estate.system
    yield Thing("key-system", system, system.code, reverse("systems:detail", args=[system.pk]))
    yield Thing("key-copy", copy, copy.serial, reverse("keys:copy", args=[copy.pk]))
    yield Thing(
        "cabinet", estate.cabinet, estate.cabinet.tag, reverse("keys:cabinet", args=[estate.cabinet.pk])
    )
    yield Thing("holder", estate.holder, estate.holder.name, reverse("keys:holder", args=[estate.holder.pk]))
    yield Thing("person", person, person.display_name, reverse("directory:person", args=[person.pk]))
    order = estate.order
    yield Thing("work-order", order, str(order.number), reverse("orders:detail", args=[order.pk]))
    for request in (estate.request, asked):
        typed, page = request.holder.name, reverse("approvals:detail", args=[request.pk])
        yield Thing("request", request, typed, page)


@dataclass(frozen=True)
class Scene:
    cast: Cast
    people: dict[str, User]
    things: list[Thing]


@pytest.fixture
def scene(cast: Cast) -> Scene:
    # Officer and auditor read what the desk reads here.
    people = {name: each for name, each in cast.everybody.items() if name not in {"officer", "auditor"}}
    # One who is two things at two sites, and one who only asks at the other.
    people["south requester"] = factories.make_user(site=cast.south, role=Role.REQUESTER)
    both = factories.make_user(site=cast.north, role=Role.REQUESTER)
    Membership.objects.create(user=both, site=cast.south, role=Role.AUDITOR)
    people["both"] = both
    things: list[Thing] = []
    for site, locksmith in ((cast.north, cast.locksmith), (cast.south, cast.stranger)):
        estate = build(site, locksmith)
        asker = cast.requester if site == cast.north else both
        holder = factories.make_holder(site, user=asker, name=f"Holder of {site.code}")
        asked = ask_for_key(
            actor=cast.requester if site == cast.north else cast.stranger,
            doors=[estate.door],
            reason="For work",
            holder=holder,
        )
        person = Person.objects.create(display_name=f"Person of {site.code}")
        things += things_of(estate, asked, person)
        things.append(Thing("holder", holder, holder.name, reverse("keys:holder", args=[holder.pk])))
    north = next(thing.row for thing in things if thing.kind == "door")
    BuildingManager.objects.create(building=north.building, user=cast.manager)
    return Scene(cast, people, things)


def opens(client: Client, thing: Thing) -> bool:
    if thing.kind in {"door", "building"} and client.get(thing.page).status_code != 200:
        return may_ask(client, thing)
    return client.get(thing.page).status_code == 200


def may_ask(client: Client, thing: Thing) -> bool:
    """Whoever does not work with the estate: whether the page on which they ask shows it to them."""
    building = thing.row.building if isinstance(thing.row, Door) else thing.row
    page = reverse("approvals:ask-building", args=[building.pk])
    return client.get(page).status_code == 200


def test_a_thing_is_found_exactly_where_its_page_opens(scene: Scene) -> None:
    seen = 0
    for name, actor in scene.people.items():
        client = Client()
        client.force_login(actor)
        for thing in scene.things:
            rows = answer(actor, thing.typed).rows
            found = [row for row in rows if (row.kind, row.thing) == (thing.kind, thing.row.pk)]
            assert bool(found) == opens(client, thing), f"{name} {thing.kind} {thing.typed}"
            seen += bool(found)
            # And each address that is told opens.
            told = {row.url for row in found} - {thing.page}
            assert all(client.get(url).status_code == 200 for url in told)
    assert 60 < seen < len(scene.people) * len(scene.things)


def test_nothing_of_another_site_is_told_as_near_either(scene: Scene, cast: Cast) -> None:
    foreign = {thing.row.pk for thing in scene.things[len(scene.things) // 2 :]}
    for thing in scene.things:
        for actor in (cast.locksmith, cast.requester, cast.manager):
            near = answer(actor, f"{thing.typed} zzz").near
            # People belong to no site, and the locksmith reads none of them.
            assert not {row.thing for row in near} & foreign


def test_a_critical_door_is_found_by_who_may_know_of_it(cast: Cast) -> None:
    door = factories.make_door(cast.north, number="77", name="Strong room", door_class="critical")
    assert [row.thing for row in answer(cast.locksmith, "strong room").rows] == [door.pk]
    assert not answer(cast.requester, "strong room").rows
    Door.objects.filter(pk=door.pk).update(door_class="ordinary")
    (row,) = answer(cast.requester, "strong room").rows
    assert row.url == reverse("approvals:ask-building", args=[door.building.pk])


def test_a_role_that_ends_takes_its_finds_along(cast: Cast) -> None:
    door = factories.make_door(cast.north, number="78", name="Strong room")
    assert answer(cast.desk, "strong").rows
    Membership.objects.filter(user=cast.desk).delete()
    assert not answer(cast.desk, "strong").rows
    assert not answer(cast.stranger, door.tag).rows


def test_a_system_of_two_sites_is_found_at_both(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    assert not answer(cast.stranger, system.code).rows
    system.sites.add(cast.south)
    key = factories.change_key(system)
    assert next(row.thing for row in answer(cast.stranger, system.code).rows) == system.pk
    assert key.pk in [row.thing for row in answer(cast.stranger, f"{key.symbol} {system.code}").rows]
    system.sites.remove(Site.objects.get(pk=cast.south.pk))
    assert not answer(cast.stranger, system.code).rows


def test_members_are_found_by_administrators(cast: Cast) -> None:
    assert [row.kind for row in answer(cast.administrator, "Locksmith").rows] == ["member"]
    assert not answer(cast.locksmith, "Administrator").rows
    assert not answer(cast.administrator, "Stranger").rows
    assert Holder.objects.count() == 0


def test_who_only_asks_for_keys_learns_no_serial_of_a_door(cast: Cast) -> None:
    """Of what stands on no page of theirs not even the beginning finds anything."""
    facts: Any = {"serial_number": "SN-48151623", "asset_tag": "AT-9918", "bar_code": "0771234567890"}
    door = factories.make_door(cast.north, number="78", **facts)
    Identifier.objects.create(
        site=cast.north, source="plan", kind="door", door=door, value="2O2Fr$t4X7Zf8NOew3FLOH"
    )
    for typed in ("SN-48151623", "sn-4815", "AT-9918", "0771234567890", "2O2Fr$t4X7Zf8NOew3FLOH"):
        assert [row.thing for row in answer(cast.locksmith, typed).rows] == [door.pk]
        assert not answer(cast.requester, typed).rows
        assert not answer(cast.requester, f"{typed} 78").rows
    assert door.pk in {row.thing for row in answer(cast.requester, "78").rows}


def test_a_person_brought_in_from_elsewhere_finds_and_opens_their_own_keys(
    client: Client, cast: Cast
) -> None:
    person = Person.objects.create(display_name="Imogen Falk", user=cast.requester)
    holder = factories.make_holder(cast.north, name="Imogen Falk", person=person)
    other = factories.make_user(site=cast.north, role=Role.REQUESTER)
    (row,) = answer(cast.requester, "imogen").rows
    assert row.thing == holder.pk
    assert not answer(other, "imogen").rows
    for user, status in ((cast.requester, 200), (other, 403)):
        client.force_login(user)
        assert client.get(row.url).status_code == status
