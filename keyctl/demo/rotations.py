"""A small rotation of the invented estate, half way: a wave is done, in the next a door was not reached."""

from collections import Counter
from collections.abc import Sequence
from uuid import UUID

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.waiting import keys_without_core
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from keyctl.orders.services.trying import let_go_untried
from keyctl.places.models import Floor, Housing, Site
from keyctl.places.roles import Role
from keyctl.rotations import services
from keyctl.rotations.areas import Area, area_of, spares_at
from keyctl.rotations.models import Rotation, RotationDoor, Wave
from keyctl.rotations.questions import answer
from keyctl.rotations.services.planning import keep_plan
from keyctl.systems.models import KeySymbol

DOORS, SPARES = 5, 2


def build_rotation(people: dict[Role, User]) -> None:
    smith = people[Role.LOCKSMITH]
    for site in Site.objects.order_by("code"):
        if found := _area_at(site):
            _half_way(smith, site, *found)
            return


def _area_at(site: Site) -> tuple[Area, dict[UUID, KeySymbol]] | None:
    """Some doors of one floor that move under another master, and cores to give."""
    for floor in Floor.objects.filter(building__site=site).select_related("building"):
        area = area_of(_free_housings(floor)[:DOORS])
        keys = _keys_for(area)
        formats = area.doors_by_format
        has_spares = all(len(cores) >= SPARES for cores in spares_at(site, formats).values())
        if len(area.housings) == DOORS and keys and has_spares:
            return area, keys
    return None


def _free_housings(floor: Floor) -> list[Housing]:
    """Of the construction that most have; none that waits in an order."""
    rows = Housing.objects.filter(door__floor=floor, cores__isnull=False)
    waiting = OrderLine.objects.filter(state=OrderLine.State.OPEN, housing__isnull=False)
    found = list(rows.exclude(pk__in=waiting.values("housing")).select_related("door__floor__building__site"))
    most = Counter(housing.construction for housing in found).most_common(1)
    return [housing for housing in found if most and housing.construction == most[0][0]]


def _keys_for(area: Area) -> dict[UUID, KeySymbol]:
    """Free keys below a master that none of the doors has; its own one then turns them no more."""
    old = area.old_keys
    if len({key.system_id for key in old}) != 1:
        return {}
    above = {key.parent_id for key in old if key.parent_id}
    for master in old[0].system.symbols.filter(kind=KeySymbol.Kind.MASTER).exclude(pk__in=above):
        free = list(keys_without_core(old[0].system, master)[: len(old)])
        if master.children.filter(kind=KeySymbol.Kind.CHANGE).exists() and len(free) == len(old):
            return dict(zip((key.pk for key in old), free, strict=True))
    return {}


def _half_way(smith: User, site: Site, area: Area, keys: dict[UUID, KeySymbol]) -> None:
    rotation = services.start_rotation(
        actor=smith,
        site=site,
        title=f"{area.housings[0].door.building}: new keys after the move",
        housings=area.housings,
        keys=keys,
        spares=dict.fromkeys(area.doors_by_format, SPARES),
        allowed_days=10,
        people=2,
    )
    rotation = keep_plan(smith, rotation, answer(rotation))
    services.accept_plan(actor=smith, rotation=rotation, version=rotation.version)
    _work(smith, _begun(smith, rotation), leave=0)
    _work(smith, _begun(smith, rotation), leave=1)


def _begun(smith: User, rotation: Rotation) -> Wave:
    rotation.refresh_from_db()
    return services.begin_wave(actor=smith, rotation=rotation, version=rotation.version)


def _work(smith: User, wave: Wave, *, leave: int) -> None:
    """Pin and swap; the last doors are not reached."""
    for line in wave.pin_order.lines.filter(state=OrderLine.State.OPEN) if wave.pin_order else ():
        done = orders.pin_line(actor=smith, line=line)
        let_go_untried(actor=smith, line=done, why="Tried at its door")
    doors = list(wave.doors.with_places())
    _swap(smith, doors[: len(doors) - leave])
    for door in doors[len(doors) - leave :]:
        services.unreached(actor=smith, door=door, reason="Locked from the inside, nobody answers")


def _swap(smith: User, doors: Sequence[RotationDoor]) -> None:
    for door in doors:
        line = OrderLine.objects.get(housing=door.housing, state=OrderLine.State.OPEN)
        core_in = Core.objects.get(meant_lines=line)
        out = Core.objects.get(housing=door.housing)
        line = orders.choose_core(actor=smith, line=line, core=core_in)
        orders.complete_swap(
            actor=smith,
            line=line,
            core_in_version=core_in.version,
            core_out_id=out.pk,
            put_at=Core.Place.BENCH,
            operating_key_turned=True,
            control_key_came_out=True,
            egress_and_latch_tried=True,
        )
