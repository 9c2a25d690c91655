"""Lists and details of keys, people, requests and history, and what opens what: eight rows cost as many
queries as two."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyctl.approvals.models import Grant
from keyctl.approvals.services import ask_for_key
from keyctl.keys.models import Holder, KeyCopy
from keyctl.systems.models import KeySystem
from tests.api.client import Api
from tests.api.estate import Estate, issue, told
from tests.cast import Cast
from tests.factories import (
    change_key,
    install,
    make_cabinet,
    make_copy,
    make_core,
    make_door,
    make_floor,
    make_holder,
    make_housing,
    symbol,
)

pytestmark = pytest.mark.usefixtures("unmetered")

LISTS = ["key-systems/", "keys/", "cabinets/", "key-copies/", "holders/", "requests/", "events/"]


def grow(estate: Estate, cast: Cast, count: int) -> None:
    """So many doors that one holder opens by a master, people with keys, requests with keys, and systems."""
    floor = make_floor(building=estate.door.building)
    master = symbol(estate.system, "AA")
    for _ in range(count):
        housing = make_housing(door=make_door(floor=floor))
        install(make_core(actor=cast.locksmith, site=cast.north, system=estate.system), housing)
        make_copy(master, make_cabinet(cast.north))
        copy = issue(change_key(estate.system), make_holder(cast.north), desk=cast.desk)
        a_system(cast)
        asked = ask_for_key(
            actor=cast.locksmith, doors=[estate.door, housing.door], reason="Work", holder=copy.holder
        )
        Grant.objects.create(request=asked, symbol=master, is_master=True, approved_by=cast.manager)
    told()


def a_system(cast: Cast) -> None:
    code = f"BARE{KeySystem.objects.count()}"
    facts = {"format_id": "small-a2-7", "keyway": code, "levels": 1, "created_by": cast.locksmith}
    KeySystem.objects.create(code=code, name=code, **facts).sites.add(cast.north)


def queries(api: Api, estate: Estate, copy: KeyCopy) -> dict[str, int]:
    key, holder, other = copy.symbol, copy.holder, change_key(estate.system, 3)
    assert isinstance(holder, Holder)
    asked = {path: path for path in LISTS}
    asked |= {
        f"keys/{key.pk}/doors/": "the doors of a key",
        f"doors/{estate.door.pk}/openers/": "the openers of a door",
        f"holders/{holder.pk}/doors/": "the doors of a holder",
        f"holders/{holder.pk}/doors/?with_key={other.pk}&without_copy={copy.pk}": "the same, imagined",
        f"keys/{key.pk}/doors/?housing={estate.housing.pk}&core={estate.spare.pk}": "a core, imagined",
        f"holders/{holder.pk}/": "a holder",
        f"requests/{estate.request.pk}/": "a request",
        f"key-copies/{copy.pk}/": "a copy",
    }
    found = {}
    for path, name in asked.items():
        api.get("sites/")  # notes the token's use, once a minute, however long the rest takes
        with CaptureQueriesContext(connection) as captured:
            answer = api.get(path)
        assert answer.status_code == 200, (path, answer.content)
        found[name] = len(captured)
    return found


def test_eight_cost_as_much_as_two(api: Api, estate: Estate, cast: Cast) -> None:
    copy = issue(symbol(estate.system, "AA"), estate.holder, desk=cast.desk)
    grow(estate, cast, 2)
    few = queries(api, estate, copy)
    grow(estate, cast, 6)
    assert queries(api, estate, copy) == few
    assert {name: number for name, number in few.items() if number > 16} == {}
    assert len(api.get(f"holders/{estate.holder.pk}/doors/").json()["results"]) == 9
