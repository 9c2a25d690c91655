"""The invented estate of the simulation: twenty sites however many doors there are, each building alike.

A building has 250 doors on five floors and a key system of its own, as in ``tests.bench.campus``; for
each door there are a housing, a core, a change key, 1.2 copies, four turns and ten entries of history.
Nothing is sealed: where a sealed value would stand there are as many bytes.
"""

from collections.abc import Iterator

from django.db import connection

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.audit.models import Event, EventSubject, Head, Link
from keyctl.cores.models import Core, Keying, Turn
from keyctl.feed.models import Change
from keyctl.keys.models import Cabinet, Custody, Handover, Holder, KeyCopy
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Membership, Site, Space
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from tests.paper.rows import Rows, Span, key, tag, text

SITES, IN_BUILDING, ON_FLOOR, MASTERS, HOLDS = 20, 250, 50, 5, 10
EVENTS_EACH, YEARS = 10, 5
# What is sealed is padded to blocks of 64 bytes and has 33 around it: cuts take one block, pins six or seven.
SEALED_PINS, SEALED_CUTS = 7 * 64 + 33, 64 + 33
# What the program itself writes meanwhile has numbers beyond all of the estate's.
OWN_NUMBERS = 1_000_000_000

_SITE = key("site", f"mod(n / {IN_BUILDING}, {SITES})")
_BUILDING = key("building", f"n / {IN_BUILDING}")
_FLOOR = key("floor", f"n / {ON_FLOOR}")
_SYSTEM = key("system", f"n / {IN_BUILDING}")
_NUMBER = f"lpad(mod(n, {IN_BUILDING})::text, 3, '0')"
# Entry n of history: of five years, in their order, so that numbers and moments rise together within a door.
_AT = (
    f"timestamptz '2022-01-01 00:00+00' + mod(n, {EVENTS_EACH}) * interval '0.5 year'"
    " + mod(n * 7919, 15000000) * interval '1 second'"
)
_VERBS = (
    "(ARRAY['core.moved', 'key.handed_out', 'key.taken_back', 'core.pinned', 'order.opened', 'core.swapped', "
    "'door.changed', 'key.cut', 'order.done', 'key.transferred'])[1 + mod(n, 10)]"
)


def sealed(length: int, number: str = "n") -> str:
    """So many bytes that are no others' bytes."""
    return f"decode(substr(repeat(md5('sealed' || ({number})), {length // 16 + 1}), 1, {2 * length}), 'hex')"


def found() -> User:
    """The sites and who administers all of them; ``smith`` works at the first alone."""
    maker = User.objects.create_user("maker", display_name="Maker")
    smith = User.objects.create_user("smith", display_name="Smith")
    with connection.cursor() as cursor:
        for nth in range(SITES):
            cursor.execute(
                f"INSERT INTO places_site (id, code, name) VALUES ({key('site', '%s')}, %s, %s)",  # noqa: S608
                [nth, f"S{nth:02}", f"Site {nth}"],
            )
    sites = list(Site.objects.order_by("code"))
    Membership.objects.bulk_create(
        Membership(user=maker, site=site, role=role)
        for site in sites
        for role in (Role.ADMINISTRATOR, Role.LOCKSMITH)
    )
    Membership.objects.create(user=smith, site=sites[0], role=Role.LOCKSMITH)
    Head.objects.create(id=1, number=OWN_NUMBERS, hash=b"\0" * 32)
    with connection.cursor() as cursor:
        cursor.execute("SELECT setval(pg_get_serial_sequence('audit_event', 'id'), %s)", [OWN_NUMBERS])
    return maker


def estate(maker: User) -> Iterator[Rows]:
    """Table by table, what is pointed at first."""
    by = f"'{maker.pk}'::uuid"
    yield from _places()
    yield from _systems(by)
    yield from _cores(by)
    yield from _keys(by)
    yield from _work(by)
    yield from _history(by)
    yield from _listed()


def write(maker: User, doors: Span) -> dict[str, int]:
    """Rows by table."""
    made: dict[str, int] = {}
    for rows in estate(maker):
        made[rows.table] = made.get(rows.table, 0) + rows.write(doors)
    return made


def _places() -> Iterator[Rows]:
    yield Rows(
        Building,
        1 / IN_BUILDING,
        {
            "id": key("building", "n"),
            "site_id": key("site", f"mod(n, {SITES})"),
            "code": "'B' || n",
            "name": "'House ' || n",
        },
    )
    yield Rows(
        Floor,
        1 / ON_FLOOR,
        {
            "id": key("floor", "n"),
            "building_id": key("building", f"n / {IN_BUILDING // ON_FLOOR}"),
            "label": f"'Level ' || mod(n, {IN_BUILDING // ON_FLOOR})",
            "level": f"mod(n, {IN_BUILDING // ON_FLOOR})",
        },
    )
    yield from _doors()


def _doors() -> Iterator[Rows]:
    numbered = {"floor_id": _FLOOR, "number": _NUMBER, "name": f"'Room ' || {_NUMBER}"}
    yield Rows(Space, 1, {"id": key("space", "n"), **numbered})
    door_class = (
        "CASE WHEN mod(n, 200) = 0 THEN 'critical' WHEN mod(n, 20) = 0 THEN 'restricted' ELSE 'ordinary' END"
    )
    yield Rows(
        Door,
        1,
        {
            "id": key("door", "n"),
            "tag": tag("door", "n"),
            "door_class": door_class,
            "is_egress": "mod(n, 10) = 0",
            **numbered,
        },
    )
    yield Rows(Door.spaces.through, 1, {"door_id": key("door", "n"), "space_id": key("space", "n")})
    yield Rows(
        Identifier,
        1,
        {
            "id": key("identifier", "n"),
            "site_id": _SITE,
            "source": "'GlobalId'",
            "kind": "'door'",
            "value": "substr(md5('global' || n), 1, 22)",
            "door_id": key("door", "n"),
        },
    )
    yield Rows(
        Housing,
        1,
        {
            "id": key("housing", "n"),
            "door_id": key("door", "n"),
            "kind": "'mortise'",
            "construction": "'small-format'",
        },
    )


def _systems(by: str) -> Iterator[Rows]:
    a_system = 1 / IN_BUILDING
    yield Rows(
        KeySystem,
        a_system,
        {
            "id": key("system", "n"),
            "code": "'KS' || n",
            "name": "'System ' || n",
            "format_id": "'small-a2-7'",
            "keyway": "'W' || n",
            "levels": "3",
            "created_by_id": by,
        },
    )
    yield Rows(
        KeySystem.sites.through,
        a_system,
        {"keysystem_id": key("system", "n"), "site_id": key("site", f"mod(n, {SITES})")},
    )
    yield _symbols(a_system, "control", "n", "'CTL'", {})
    yield _symbols(a_system, "top", "n", "'A'", {"level": "0"})
    under_top = {"level": "1", "parent_id": key("top", f"n / {MASTERS}"), "ordinal": f"mod(n, {MASTERS})"}
    yield _symbols(a_system * MASTERS, "master", f"n / {MASTERS}", f"'A' || mod(n, {MASTERS})", under_top)
    master = f"n / {IN_BUILDING} * {MASTERS} + mod(n, {MASTERS})"
    under_master = {"level": "2", "parent_id": key("master", master), "ordinal": f"mod(n, {IN_BUILDING})"}
    name = f"'A' || mod(n, {MASTERS}) || '-' || mod(n, {IN_BUILDING})"
    yield _symbols(1, "change", f"n / {IN_BUILDING}", name, under_master)


def _symbols(each: float, kind: str, system: str, name: str, place: dict[str, str]) -> Rows:
    columns = {
        "id": key(kind, "n"),
        "system_id": key("system", system),
        "kind": text("master" if kind == "top" else kind),
        "symbol": name,
        "bitting": sealed(SEALED_CUTS),
        "fingerprint": f"md5('{kind}' || n) || md5(n::text)",
    }
    return Rows(KeySymbol, each, columns | place)


def _cores(by: str) -> Iterator[Rows]:
    yield Rows(
        Core,
        1,
        {
            "id": key("core", "n"),
            "tag": tag("core", "n"),
            "site_id": _SITE,
            "system_id": _SYSTEM,
            "format_id": "'small-a2-7'",
            "construction": "'small-format'",
            "place": "'housing'",
            "housing_id": key("housing", "n"),
            "pinning": sealed(SEALED_PINS),
            "pinned_at": "now()",
            "pinned_by_id": by,
        },
    )
    core, building = key("core", "n"), f"n / {IN_BUILDING}"
    change, control, top = key("change", "n"), key("control", building), key("top", building)
    master = key("master", f"{building} * {MASTERS} + mod(n, {MASTERS})")
    yield Rows(Keying, 1, {"id": key("keying", "n"), "core_id": core, "symbol_id": change})
    for kind, symbol in (("change", change), ("master", master), ("top", top), ("control", control)):
        withdraws = str(kind == "control").upper()
        yield Rows(
            Turn,
            1,
            {
                "id": key(f"turn-{kind}", "n"),
                "core_id": core,
                "symbol_id": symbol,
                "operates": f"NOT {withdraws}",
                "withdraws": withdraws,
            },
        )


def _keys(by: str) -> Iterator[Rows]:
    """A holder has five copies out and brought five back before; the others hang in a cabinet."""
    home = {"site_id": key("site", f"mod(n / {IN_BUILDING // HOLDS}, {SITES})")}
    yield Rows(
        Cabinet,
        1 / IN_BUILDING,
        {
            "id": key("cabinet", "n"),
            "tag": tag("cabinet", "n"),
            "site_id": key("site", f"mod(n, {SITES})"),
            "name": "'Desk ' || n",
        },
    )
    yield Rows(Holder, 1 / HOLDS, {"id": key("holder", "n"), "name": "'Holder ' || n", **home})
    signed = {
        "signed_as": "'Holder ' || n",
        "sign_way": "'typed'",
        "holder_id": key("holder", "n"),
        "by_id": by,
    }
    for way, number in (("out", "2 * n"), ("back", "2 * n + 1")):
        about = {"id": key(f"act-{way}", "n"), "number": number, "way": f"'{way}'"}
        yield Rows(Handover, 1 / HOLDS, about | home | signed)
    yield from _copies()
    yield from _lines(by)


def _copies() -> Iterator[Rows]:
    holder = key("holder", f"n / {HOLDS}")
    held = "mod(n, 2) = 0"
    copy = {"symbol_id": key("change", "n"), "site_id": _SITE}
    yield Rows(
        KeyCopy,
        1,
        {
            "id": key("copy", "n"),
            "serial": tag("copy", "n"),
            "state": f"CASE WHEN {held} THEN 'held' ELSE 'in-cabinet' END",
            "holder_id": f"CASE WHEN {held} THEN {holder} END",
            "custody_id": f"CASE WHEN {held} THEN {key('line', 'n')} END",
            "cabinet_id": f"CASE WHEN {held} THEN NULL ELSE {key('cabinet', f'n / {IN_BUILDING}')} END",
            **copy,
        },
    )
    spare = {name: value.replace("(n", "(5 * n") for name, value in copy.items()}
    hung = {"state": "'in-cabinet'", "cabinet_id": key("cabinet", f"5 * n / {IN_BUILDING}")}
    yield Rows(KeyCopy, 1 / 5, {"id": key("spare", "n"), "serial": tag("spare", "n"), **spare, **hung})


def _lines(by: str) -> Iterator[Rows]:
    """Of the register: those that are open, and one that ended for each of the other copies."""
    holder = key("holder", f"n / {HOLDS}")
    out, back = key("act-out", f"n / {HOLDS}"), key("act-back", f"n / {HOLDS}")
    line = {"copy_id": key("copy", "n"), "holder_id": holder, "handed_out_by_id": by, "out_act_id": out}
    yield Rows(Custody, 1, {"id": key("line", "n"), **line}, "mod(n, 2) = 0")
    ended = {"ended_at": "now()", "ended_by_id": by, "ending": "'returned'", "back_act_id": back}
    yield Rows(
        Custody,
        1,
        {"id": key("old", "n"), "out_at": "now() - interval '1 year'", **line, **ended},
        "mod(n, 2) = 1",
    )


def _work(by: str) -> Iterator[Rows]:
    """One door in twenty is asked for; of orders as many are done as stand open, with four housings each."""
    door = f"n * {2 * HOLDS}"
    yield Rows(
        KeyRequest,
        1 / 20,
        {
            "id": key("request", "n"),
            "building_id": key("building", f"{door} / {IN_BUILDING}"),
            "holder_id": key("holder", "n * 2"),
            "requester_id": by,
            "reason": "'Work'",
        },
    )
    asked = {"keyrequest_id": key("request", "n"), "door_id": key("door", door)}
    yield Rows(KeyRequest.doors.through, 1 / 20, asked)
    done = "mod(n, 2) = 0"
    yield Rows(
        WorkOrder,
        1 / 10,
        {
            "id": key("order", "n"),
            "number": "n + 1",
            "site_id": key("site", f"mod(n * 10 / {IN_BUILDING}, {SITES})"),
            "kind": "'swap'",
            "title": "'Swap cores'",
            "opened_by_id": by,
            "state": f"CASE WHEN {done} THEN 'done' ELSE 'open' END",
            "closed_at": f"CASE WHEN {done} THEN now() END",
        },
    )
    yield Rows(
        OrderLine,
        4 / 10,
        {
            "id": key("order-line", "n"),
            "order_id": key("order", "n / 4"),
            "ordinal": "mod(n, 4)",
            "housing_id": key("housing", "n / 4 * 10 + mod(n, 4)"),
        },
    )


def _history(by: str) -> Iterator[Rows]:
    """Entry n is about door n / 10 and its core; as long as those of the demo's estate are."""
    door = f"n / {EVENTS_EACH}"
    where = f"'B' || {door} / {IN_BUILDING} || ' ' || mod({door}, {IN_BUILDING})"
    yield Rows(
        Event,
        EVENTS_EACH,
        {
            "id": "n + 1",
            "at": _AT,
            "actor_id": by,
            "actor_name": "'Maker'",
            "site_id": _SITE.replace("n /", f"n / {EVENTS_EACH} /"),
            "verb": _VERBS,
            "sentence": f"'put core ' || {tag('core', door)} || ' into ' || {where} || ', mortise cylinder'",
            "request": "md5('request' || n)",
        },
    )
    for kind in ("door", "core"):
        named = {"kind": text({"door": "places.door", "core": "cores.core"}[kind]), "event_id": "n + 1"}
        yield Rows(EventSubject, EVENTS_EACH, {**named, "subject_id": key(kind, door)})
    # Not of a chain: as long as it.
    linked = {"before": sealed(32, "n"), "hash": sealed(32, "n + 1")}
    yield Rows(Link, EVENTS_EACH, {"number": "n + 1", "event_id": "n + 1", **linked})


def _listed() -> Iterator[Rows]:
    """The feed as its triggers would have listed each thing."""
    home = {"site": _SITE, "deleted": "FALSE", "at": "now()"}
    for kind, own in (
        ("space", "space"),
        ("door", "door"),
        ("housing", "housing"),
        ("core", "core"),
        ("key", "change"),
        ("key-copy", "copy"),
    ):
        yield Rows(Change, 1, {"kind": text(kind), "thing": key(own, "n"), **home})
