"""Every route of the product, found in the URL configuration: who is let in, and nobody meets a trace."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services import approve_request, ask_for_key
from keyctl.cores.models import Core
from keyctl.keys.models import KeyCopy
from keyctl.orders.models import WorkOrder
from keyctl.orders.services import open_pin_order, open_swap_order
from keyctl.places.models import BuildingManager, Housing
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast

OPEN_TO_ALL = {"accounts:sign-in", "accounts:sign-out"}


@dataclass(frozen=True)
class Scene:
    """One of everything at the north site."""

    cast: Cast
    system: KeySystem
    core: Core
    housing: Housing
    pin_order: WorkOrder
    swap_order: WorkOrder
    copy: KeyCopy
    key_request: KeyRequest
    grant: Grant


@pytest.fixture
def scene(cast: Cast) -> Scene:
    system = factories.make_system(cast.north, actor=cast.administrator)
    housing = factories.make_housing(cast.north)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    factories.install(core, housing)
    fresh = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    BuildingManager.objects.create(building=housing.door.building, user=cast.manager)
    holder = factories.make_holder(cast.north, user=cast.requester)
    facts: dict[str, Any] = {"actor": cast.requester, "holder": holder, "doors": [housing.door]}
    facts["reason"] = "Work"
    asked, granted = ask_for_key(**facts), ask_for_key(**facts)
    change = factories.change_key(system)
    approve_request(
        actor=cast.manager, request=granted, version=granted.version, symbols=[change], note="For the work"
    )
    return Scene(
        cast=cast,
        system=system,
        core=core,
        housing=housing,
        pin_order=open_pin_order(actor=cast.locksmith, site=cast.north, title="Pin", cores=[fresh]),
        swap_order=open_swap_order(actor=cast.locksmith, site=cast.north, title="Swap", housings=[housing]),
        copy=factories.make_copy(change, factories.make_cabinet(cast.north)),
        key_request=asked,
        grant=Grant.objects.get(request=granted),
    )


Pick = Callable[[Scene], Any]
Writes = Callable[[], AbstractContextManager[list[str]]]

# The object that a route's parameter names. A new route with a parameter wants a line here.
OBJECTS: dict[str, Pick] = {
    "cores:door": lambda scene: scene.housing.door.pk,
    "cores:detail": lambda scene: scene.core.pk,
    "cores:pinning": lambda scene: scene.core.pk,
    "cores:move": lambda scene: scene.core.pk,
    "cores:symbol": lambda scene: factories.change_key(scene.system).pk,
    "systems:detail": lambda scene: scene.system.pk,
    "systems:children": lambda scene: factories.symbol(scene.system, "A").pk,
    "orders:detail": lambda scene: scene.swap_order.pk,
    "orders:cancel": lambda scene: scene.swap_order.pk,
    "orders:pin-line": lambda scene: scene.pin_order.lines.get().pk,
    "orders:swap": lambda scene: scene.swap_order.lines.get().pk,
    "keys:copy": lambda scene: scene.copy.pk,
    "keys:hand-out": lambda scene: scene.copy.pk,
    "keys:take-back": lambda scene: scene.copy.pk,
    "keys:lost": lambda scene: scene.copy.pk,
    "keys:destroy": lambda scene: scene.copy.pk,
    "keys:holder": lambda scene: scene.key_request.holder.pk,
    "keys:cut": lambda scene: scene.cast.north.pk,
    "keys:new-holder": lambda scene: scene.cast.north.pk,
    "approvals:ask-building": lambda scene: scene.housing.door.building.pk,
    "approvals:detail": lambda scene: scene.key_request.pk,
    "approvals:approve": lambda scene: scene.key_request.pk,
    "approvals:refuse": lambda scene: scene.key_request.pk,
    "approvals:withdraw": lambda scene: scene.key_request.pk,
    "approvals:hand-out": lambda scene: scene.grant.pk,
    "prints:pinning-sheet": lambda scene: scene.pin_order.pk,
    "find-by-tag": lambda scene: scene.core.tag,
}


def routes(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from routes(pattern.url_patterns, space + inner)
        else:
            yield f"{space}{pattern.name}", pattern


PAGES = {name: route for name, route in routes(get_resolver().url_patterns) if not name.startswith("api:")}
WITH_OBJECT = sorted(OBJECTS)


def address(name: str, scene: Scene) -> str:
    parameters = list(PAGES[name].pattern.converters)
    return reverse(name, kwargs={parameters[0]: OBJECTS[name](scene)} if parameters else None)


def test_every_route_with_a_parameter_has_an_object() -> None:
    assert {name for name, route in PAGES.items() if route.pattern.converters} == set(OBJECTS)


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_gets_in_without_signing_in(name: str, method: str, scene: Scene, client: Client) -> None:
    answer = getattr(client, method)(address(name, scene))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("name", WITH_OBJECT)
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_stranger_finds_nothing_there(name: str, method: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.stranger)
    assert getattr(client, method)(address(name, scene)).status_code in {404, 405}


@pytest.mark.parametrize("name", WITH_OBJECT)
def test_a_requester_sees_only_their_own_requests_and_keys(name: str, scene: Scene, client: Client) -> None:
    client.force_login(scene.cast.requester)
    is_own = name.startswith("approvals:") or name == "keys:holder"
    answer = client.get(address(name, scene))
    assert answer.status_code in ({200, 302, 403, 405} if is_own else {403, 404, 405})


@pytest.mark.parametrize("name", sorted(PAGES))
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_meets_a_trace(name: str, method: str, scene: Scene, client: Client) -> None:
    for person in scene.cast.everybody.values():
        client.force_login(person)
        assert getattr(client, method)(address(name, scene)).status_code < 500


@pytest.mark.parametrize("name", sorted(set(PAGES) - OPEN_TO_ALL))
def test_looking_changes_nothing(name: str, scene: Scene, client: Client, writes: Writes) -> None:
    client.force_login(scene.cast.locksmith)
    with writes() as written:
        client.get(address(name, scene))
    assert written == []
