"""What a tablet takes along: orders as a route, doors, cores by their tags; nothing of it is a bitting."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import (
    CharField,
    Field,
    Max,
    Prefetch,
    Q,
    QuerySet,
    SmallIntegerField,
    UUIDField,
)
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import pgettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.access import field_sites
from keyctl.field.models import Device, FieldEvent, RejectedEvent
from keyctl.lib.tags import clean_tag
from keyctl.orders.checklists import has_points, is_needed, points_at
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing

MOST_DOORS = 2000
MOST_FREE_CORES = 5000
FREE = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)
WITHOUT_HOLDER = {
    Core.Place.HOUSING: pgettext_lazy("where it is", "in a door"),
    Core.Place.SHELF: pgettext_lazy("where it is", "on the shelf"),
    Core.Place.BENCH: pgettext_lazy("where it is", "on the bench"),
    Core.Place.CASE: pgettext_lazy("where it is", "in a case"),
    Core.Place.GONE: pgettext_lazy("where it is", "gone"),
}
ROUTE = ("floor__building__site__code", "floor__building__code", "floor__level", "number")

Told = dict[str, Any]


class At(NamedTuple):
    """Where a line sends somebody: as much as the way there needs, since of lines there are many."""

    door: UUID
    building: UUID
    code: str
    level: int
    number: str


def _there(path: str, field: Field[Any, Any]) -> Coalesce:
    return Coalesce(f"door__{path}", f"housing__door__{path}", output_field=field)


AT = {
    "at_door": _there("pk", UUIDField()),
    "at_building": _there("floor__building", UUIDField()),
    "at_code": _there("floor__building__code", CharField()),
    "at_level": _there("floor__level", SmallIntegerField()),
    "at_number": _there("number", CharField()),
}


def pack_for(actor: User, device: Device | None) -> Told:
    sites = list(field_sites(actor))
    # Before what it counts for: what arrives while the pack is made is in the next one at the latest.
    sequence = next_sequence(device) if device else 0
    orders = _orders(actor)
    looked_at = _looked_at(orders)
    doors = _doors(orders)
    now = timezone.now().isoformat()
    return {
        "made_at": now,
        "server_time": now,
        "person": {"id": str(actor.pk), "name": str(actor)},
        "device": device and {"id": str(device.pk), "name": device.name, "next_sequence": sequence},
        "sites": [{"id": str(site.pk), "code": site.code, "name": site.name} for site in sites],
        "orders": [_told_order(order, actor, looked_at) for order in orders],
        "doors": [_told_door(door) for door in doors],
        "cores": _told_cores(_cores(doors), _free_cores(actor)),
    }


def next_sequence(device: Device) -> int:
    """One more than the highest that ever came from it."""
    told = (
        rows.filter(device=device).aggregate(last=Max("sequence"))["last"]
        for rows in (FieldEvent.objects, RejectedEvent.objects)
    )
    return max((last or 0 for last in told), default=0) + 1


def looked_up(actor: User, code: str) -> Told:
    """A door or a core by its tag, where the actor works; both lists are empty where nothing is found."""
    tag = clean_tag(code.rsplit("/", 1)[-1])
    mine = field_sites(actor)
    doors = list(_with_contents(Door.objects.at_sites(mine).filter(tag=tag))) if tag else []
    cores = Core.objects.filter(site__in=mine, tag=tag).defer("pinning") if tag else Core.objects.none()
    found = list(cores.with_places())
    return {
        "doors": [_told_door(door) for door in doors],
        "cores": _told_cores(_cores(doors), found),
    }


def _orders(actor: User) -> list[WorkOrder]:
    """Due first. Orders for the bench alone stay there."""
    at_doors = OrderLine.objects.filter(Q(housing__isnull=False) | Q(door__isnull=False))
    lines = at_doors.select_related("core", "meant").defer("core__pinning", "meant__pinning")
    orders = (
        WorkOrder.objects.unfinished()
        .filter(site__in=field_sites(actor), pk__in=at_doors.values("order"))
        .select_related("site")
        .prefetch_related(Prefetch("lines", lines.annotate(**AT), to_attr="route"))
    )
    return sorted(orders, key=lambda order: (order.due_on or date.max, order.number))


def _route(order: WorkOrder) -> list[OrderLine]:
    lines: list[OrderLine] = getattr(order, "route")  # noqa: B009 (put there by the prefetch)
    return lines


def _at(line: OrderLine) -> At:
    return At(*(getattr(line, name) for name in AT))


def _looked_at(orders: Sequence[WorkOrder]) -> dict[UUID, Door]:
    """The doors of lines with a checklist; of others a line tells no more than where they are."""
    doors = {_at(line).door for order in orders if has_points(order) for line in _route(order)}
    return Door.objects.prefetch_related("housings").in_bulk(doors)


def _doors(orders: Sequence[WorkOrder]) -> list[Door]:
    """Those of the orders, then what else is in their buildings, as far as there is room."""
    places = [_at(line) for order in orders for line in _route(order)]
    named = list(dict.fromkeys(place.door for place in places))[:MOST_DOORS]
    rows = Door.objects.filter(floor__building__in={place.building for place in places}).order_by(*ROUTE)
    others = rows.exclude(pk__in=named).values_list("pk", flat=True)[:MOST_DOORS]
    wanted = [*named, *others][:MOST_DOORS]
    return list(_with_contents(Door.objects.filter(pk__in=wanted)).order_by(*ROUTE))


def _with_contents(doors: QuerySet[Door]) -> QuerySet[Door]:
    held = Prefetch("cores", Core.objects.defer("pinning"), to_attr="held")
    housings = Housing.objects.order_by("kind", "label").prefetch_related(held)
    return doors.with_places().prefetch_related(Prefetch("housings", housings, to_attr="bodies"))  # type: ignore[attr-defined,no-any-return]


def _free_cores(actor: User) -> list[Core]:
    rows = Core.objects.filter(site__in=field_sites(actor), place__in=FREE).order_by("tag")
    return list(rows.select_related("carrier").defer("pinning")[:MOST_FREE_CORES])


def _cores(doors: Iterable[Door]) -> list[Core]:
    found = []
    for door in doors:
        for body in _bodies(door):
            for core in _held(body):
                # Known already, and asked for by the words that say where it is.
                body.door, core.housing = door, body
                found.append(core)
    return found


def _bodies(door: Door) -> list[Housing]:
    bodies: list[Housing] = getattr(door, "bodies")  # noqa: B009 (put there by the prefetch)
    return bodies


def _held(body: Housing) -> list[Core]:
    held: list[Core] = getattr(body, "held")  # noqa: B009 (put there by the prefetch)
    return held


def _told_order(order: WorkOrder, actor: User, looked_at: Mapping[UUID, Door]) -> Told:
    lines = sorted(_route(order), key=_on_the_way)
    return {
        "id": str(order.pk),
        "number": order.number,
        "kind": order.kind,
        "kind_label": order.get_kind_display(),
        "title": order.title,
        "due_on": order.due_on.isoformat() if order.due_on else None,
        "state": order.state,
        "site": str(order.site_id),
        "is_mine": order.assigned_to_id == actor.pk,
        "lines": [_told_line(order, line, looked_at.get(_at(line).door)) for line in lines],
    }


def _on_the_way(line: OrderLine) -> tuple[str, int, str, int]:
    place = _at(line)
    return (place.code, place.level, place.number, line.ordinal)


def _told_line(order: WorkOrder, line: OrderLine, looked_at: Door | None) -> Told:
    line.order = order
    return {
        "id": str(line.pk),
        "ordinal": line.ordinal,
        "state": line.state,
        "door": str(_at(line).door),
        "housing": _text_of(line.housing_id),
        "core": line.core.tag if line.core else None,
        "meant": line.meant.tag if line.meant else None,
        "checklist": [
            {"key": point.key, "label": point.label, "is_needed": is_needed(line, point)}
            for point in points_at(looked_at, order)
        ],
        "note": line.note,
    }


def _told_door(door: Door) -> Told:
    return {
        "id": str(door.pk),
        "tag": door.tag,
        "number": door.number,
        "name": door.name,
        "building": door.building.code,
        "building_name": door.building.name,
        "floor": door.floor.label,
        "level": door.floor.level,
        "site": str(door.site.pk),
        "door_class": door.door_class,
        "is_egress": door.is_egress,
        "is_fire_rated": door.is_fire_rated,
        "note": door.note,
        "housings": [_told_housing(body) for body in _bodies(door)],
    }


def _told_housing(body: Housing) -> Told:
    return {
        "id": str(body.pk),
        "label": body.label or body.get_kind_display(),
        "kind": body.kind,
        "construction": body.construction,
        "core": next((core.tag for core in _held(body)), None),
    }


def _told_cores(*groups: Iterable[Core]) -> list[Told]:
    unique = {core.pk: core for group in groups for core in group}
    return [
        {
            "tag": core.tag,
            "construction": core.construction,
            "place": core.place,
            "version": core.version,
            # Not by the pins, which are not even read here.
            "is_pinned": core.pinned_at is not None,
            "is_disputed": core.is_disputed,
            "where": _where(core),
        }
        for core in unique.values()
    ]


def _where(core: Core) -> str:
    """In the language of whoever reads it."""
    if core.housing:
        return _("in {place}").format(place=core.housing)
    if core.carrier:
        return _("in the case of {person}").format(person=core.carrier)
    return str(WITHOUT_HOLDER[Core.Place(core.place)])


def _text_of(pk: UUID | None) -> str | None:
    return str(pk) if pk else None
