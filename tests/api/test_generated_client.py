"""Contract tests by a client that openapi-python-client makes from the committed description."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest

from keyctl.orders.models import WorkOrder
from keyctl.places.models import Door
from tests.api.client import Api
from tests.api.estate import Estate
from tests.api.fuzzing import connection_kept
from tests.api.generated import PACKAGE, Client, generate, run
from tests.factories import make_door


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    folder = tmp_path_factory.mktemp("client")
    made = generate(folder)
    sys.path.insert(0, str(folder))
    yield made
    sys.path.remove(str(folder))
    for name in [name for name in sys.modules if name.split(".", 1)[0] == PACKAGE]:
        del sys.modules[name]


@pytest.fixture
def client(package: Path, api: Api) -> Iterator[Client]:
    with connection_kept():
        yield Client(api.bearer or "")


def test_every_operation_is_in_it_and_its_types_hold(package: Path) -> None:
    """mypy --strict over all of it, as whoever uses it would run."""
    folder = package.parent
    words = ["--strict", "--config-file=", f"--cache-dir={folder / 'cache'}", PACKAGE]
    assert "no issues found" in run([sys.executable, "-m", "mypy", *words], folder)


def test_a_list_is_read_page_by_page(client: Client, estate: Estate) -> None:
    made = {str(estate.door.pk), *(str(make_door(floor=estate.door.floor).pk) for _ in range(4))}
    seen: list[str] = []
    cursor: dict[str, str] = {}
    while True:
        page = client.ask("doors.doors_list", limit=2, **cursor).parsed
        seen += [str(door.id) for door in page.results]
        if page.next_ is None:
            break
        cursor = {"cursor": str(page.next_).rsplit("cursor=", 1)[1].split("&")[0]}
    assert (len(seen), set(seen)) == (5, made)


def test_some_fields_only(client: Client, estate: Estate) -> None:
    fields = client.model("DoorField")
    asked = [fields.NUMBER, fields.ID]
    (row,) = client.ask("doors.doors_list", fields=asked).parsed.results
    assert isinstance(row, client.model("DoorPart"))
    assert row.to_dict() == {"id": str(estate.door.pk), "number": "E-1.04"}
    one = client.ask("doors.doors_retrieve", estate.door.pk, fields=asked).parsed
    assert one.to_dict() == row.to_dict()


def test_what_has_not_changed_is_not_sent_again(client: Client, estate: Estate) -> None:
    first = client.ask("doors.doors_retrieve", estate.door.pk)
    assert isinstance(first.parsed, client.model("Door"))
    again = client.ask("doors.doors_retrieve", estate.door.pk, if_none_match=first.headers["ETag"])
    assert (again.status_code, again.content, again.parsed) == (304, b"", None)


def test_a_change_names_the_state_it_was_made_for(client: Client, estate: Estate) -> None:
    tag = client.ask("doors.doors_retrieve", estate.door.pk).headers["ETag"]
    change = client.model("PatchedDoorChange")
    done = client.ask("doors.doors_partial_update", estate.door.pk, body=change(name="New"), if_match=tag)
    assert (done.status_code, done.parsed.name) == (200, "New")
    late = client.ask("doors.doors_partial_update", estate.door.pk, body=change(name="Late"), if_match=tag)
    assert (late.status_code, late.parsed.status) == (412, 412)
    assert late.parsed.current.to_dict() == done.parsed.to_dict()
    next_try = late.headers["ETag"]
    assert next_try == done.headers["ETag"]
    again = client.ask(
        "doors.doors_partial_update", estate.door.pk, body=change(name="Late"), if_match=next_try
    )
    assert again.status_code == 200
    assert Door.objects.get(pk=estate.door.pk).name == "Late"


def test_an_order_that_was_sent_twice_is_opened_once(client: Client, estate: Estate) -> None:
    new = client.model("NewInspectOrder")
    kind = client.model("NewInspectOrderKindEnum").INSPECT
    body = new(kind=kind, site=estate.site.pk, title="Yearly look", doors=[estate.door.pk])
    count, key = WorkOrder.objects.count(), f'"{uuid4()}"'
    first, again = (
        client.ask("work_orders.work_orders_create", body=body, idempotency_key=key) for _ in range(2)
    )
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.content == first.content
    assert first.headers["Location"].endswith(f"/work-orders/{first.parsed.id}/")
    assert WorkOrder.objects.count() == count + 1
    body.title = "Another look"
    reused = client.ask("work_orders.work_orders_create", body=body, idempotency_key=key)
    assert (reused.status_code, reused.parsed.title) == (422, "The key belongs to another request")


def test_many_at_once_are_told_one_by_one(client: Client, estate: Estate) -> None:
    new, many = client.model("NewDoor"), client.model("DoorBulk")
    floor = estate.door.floor.pk
    items = [new(floor=floor, number=number) for number in ("E-1.05", "E-1.04", "E-1.06")]
    done = client.ask("doors.doors_bulk_create", body=many(items=items), idempotency_key=f'"{uuid4()}"')
    assert [(each.index, each.status) for each in done.parsed.results] == [(0, 201), (1, 422), (2, 201)]
    assert (done.parsed.done, done.parsed.refused) == (2, 1)
    made, refused, _ = done.parsed.results
    assert made.value.number == "E-1.05"
    assert isinstance(refused.problem, client.model("Problem"))
    assert Door.objects.filter(number__startswith="E-1.0").count() == 3


def test_what_is_refused_is_read_as_a_problem(client: Client, package: Path) -> None:
    missing: Any = client.ask("doors.doors_retrieve", UUID(int=7))
    assert isinstance(missing.parsed, client.model("Problem"))
    assert (missing.status_code, missing.parsed.title) == (404, "Nothing here")
    nobody = Client("kc_nobody").ask("sites.sites_list")
    assert (nobody.status_code, nobody.parsed.status) == (401, 401)
