from keyctl.orders.models import WorkOrder
from tests.api.client import Api, problem
from tests.api.estate import Estate, make_swap
from tests.cast import Cast
from tests.factories import make_housing


def test_an_order_comes_with_its_lines(api: Api, estate: Estate) -> None:
    answer = api.get(f"work-orders/{estate.order.pk}/").json()
    building = estate.door.building
    door = {
        "id": str(estate.door.pk),
        "number": "E-1.04",
        "building": {"id": str(building.pk), "code": building.code},
    }
    assert answer["lines"] == [
        {
            "ordinal": 1,
            "state": "open",
            "core": {"id": str(estate.spare.pk), "tag": estate.spare.tag},
            "housing": {"id": str(estate.housing.pk), "door": door},
            "door": None,
            "system": None,
            "core_out": None,
            "symbol": None,
            "count": None,
            "shut_at": None,
            "lifted_at": None,
            "unreached_at": None,
            "done_at": None,
        }
    ]
    assert (answer["number"], answer["kind"], answer["state"]) == (estate.order.number, "swap", "open")


def test_an_order_does_not_name_who_opened_it(api: Api, estate: Estate, cast: Cast) -> None:
    response = api.get(f"work-orders/{estate.order.pk}/")
    assert cast.locksmith.display_name.encode() not in response.content


def test_orders_come_in_the_order_of_their_numbers(api: Api, estate: Estate, cast: Cast) -> None:
    for _ in range(3):
        make_swap(cast.north, make_housing(cast.north), cast.locksmith)
    numbers = [row["number"] for row in api.get("work-orders/").json()["results"]]
    assert numbers == sorted(numbers)
    assert len(numbers) == 4


def test_orders_by_state_and_kind(api: Api, estate: Estate) -> None:
    assert api.ids("work-orders/", state="open", kind="swap") == [str(estate.order.pk)]
    assert api.ids("work-orders/", state="done") == []
    assert api.ids("work-orders/", kind=WorkOrder.Kind.PIN) == []


def test_a_foreign_order_is_not_found(foreign: Api, estate: Estate) -> None:
    problem(foreign.get(f"work-orders/{estate.order.pk}/"), 404, "not-found")
    assert foreign.ids("work-orders/") == []
