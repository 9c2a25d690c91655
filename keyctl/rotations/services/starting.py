"""Starting a rotation: which doors, which keys for which, which cores are given for it, and the crew."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils.translation import gettext, ngettext

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold, save_next
from keyctl.lib.language import in_english
from keyctl.lib.numbers import as_number
from keyctl.places.access import require_role
from keyctl.places.models import Housing, Site
from keyctl.rotations.access import WORKERS
from keyctl.rotations.areas import Area, area_of, spares_at
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor, RotationKey
from keyctl.rotations.services.locking import counted, locked_rotation, plan_is_stale, tell
from keyctl.systems.models import KeySymbol

NUMBER_ATTEMPTS = 50
MOST_DOORS = 20_000
MOST_NAMED = 10
ROWS_AT_ONCE = 500


@transaction.atomic
def start_rotation(
    *,
    actor: User,
    site: Site,
    title: str,
    housings: Iterable[Housing],
    keys: Mapping[UUID, KeySymbol],
    spares: Mapping[str, int],
    **terms: Any,
) -> Rotation:
    """``keys`` names the new key of each old one, ``spares`` how many free cores of each format are given."""
    require_role(actor, site, *WORKERS)
    locked = list(
        Housing.objects.select_for_update(of=("self",))
        .filter(pk__in=[each.pk for each in housings])
        .order_by("pk")
    )
    area = area_of(
        Housing.objects.filter(pk__in=[each.pk for each in locked]).select_related(
            "door__floor__building__site"
        )
    )
    _refuse_area(site, area)
    _refuse_keys(site, area, keys)
    given = _given(site, spares, area.doors_by_format)
    rotation = _numbered(site=site, title=title.strip(), started_by=actor, **terms)
    _write_doors(rotation, area, keys)
    RotationCore.objects.bulk_create([RotationCore(rotation=rotation, core=core) for core in given])
    tell(
        actor,
        rotation,
        "started",
        f"started {in_english(rotation)}: {counted(len(area.housings), 'door')}, "
        f"{counted(len(given), 'spare core')}",
        doors=len(area.housings),
        spares=len(given),
    )
    return rotation


@transaction.atomic
def add_spares(*, actor: User, rotation: Rotation, version: int, spares: Mapping[str, int]) -> Rotation:
    """More cores go round: fewer waves, or the time holds again."""
    rotation = locked_rotation(actor, rotation, version)
    formats = Counter(rotation.doors.to_do().values_list("format_id", flat=True))
    given = _given(rotation.site, spares, formats, at_least=0)
    if not given:
        raise Refused(gettext("No core is given. Say how many free cores go round from now on."))
    RotationCore.objects.bulk_create([RotationCore(rotation=rotation, core=core) for core in given])
    plan_is_stale(rotation)
    save_next(rotation)
    sentence = f"gave {counted(len(given), 'core')} more for {in_english(rotation)}"
    tell(actor, rotation, "spares_added", sentence, given)
    return rotation


@transaction.atomic
def set_terms(*, actor: User, rotation: Rotation, version: int, **terms: Any) -> Rotation:
    """The crew and the allowed time; the plan is worked out anew by them."""
    rotation = locked_rotation(actor, rotation, version)
    for name, value in terms.items():
        setattr(rotation, name, value)
    plan_is_stale(rotation)
    save_next(rotation, *terms)
    sentence = f"set the crew and the allowed time of {in_english(rotation)}"
    tell(actor, rotation, "terms_set", sentence, **terms)
    return rotation


def _numbered(**facts: Any) -> Rotation:
    """The next number; where two take the same one the database lets one through."""
    for _ in range(NUMBER_ATTEMPTS):
        last = Rotation.objects.aggregate(last=Max("number"))["last"] or 0
        try:
            with transaction.atomic():
                return Rotation.objects.create(number=last + 1, **facts)
        except IntegrityError:
            continue
    raise Conflict(
        gettext("Many rotations are being started at this moment. Nothing was started; try again.")
    )


def _refuse_area(site: Site, area: Area) -> None:
    if area.taken:
        raise Refused(
            gettext(
                "Some of these doors are in a rotation that has not ended. Leave them out, or end that one."
            ),
            reasons=[str(housing) for housing in area.taken[:MOST_NAMED]],
        )
    if not area.housings:
        raise Refused(gettext("None of these doors has a core that is keyed to something. Choose others."))
    if len(area.housings) > MOST_DOORS:
        raise Refused(
            gettext("A rotation takes at most {most_doors} doors. Choose fewer buildings.").format(
                most_doors=as_number(MOST_DOORS)
            )
        )
    if any(housing.door.site.pk != site.pk for housing in area.housings):
        raise Refused(gettext("All doors of a rotation are at one site."))


def _refuse_keys(site: Site, area: Area, keys: Mapping[UUID, KeySymbol]) -> None:
    old_keys = area.old_keys
    if missing := [f"{key.system.code} {key}" for key in old_keys if key.pk not in keys]:
        raise Refused(
            gettext("Name a new key for each old one."),
            reasons=[gettext("{each} has none.").format(each=each) for each in missing],
        )
    at_site = set(site.key_systems.values_list("pk", flat=True))
    reasons = [why for key in old_keys if (why := _why_not(key, keys[key.pk], at_site))]
    for housing in area.housings:
        if len({keys[key.pk].system_id for key in area.keyed[housing.pk]}) > 1:
            reasons.append(
                gettext("{housing} would be keyed to keys of two systems.").format(housing=housing)
            )
    if reasons:
        raise Refused(gettext("These keys do not do."), reasons=reasons[:MOST_NAMED])


def _why_not(old: KeySymbol, new: KeySymbol, at_site: set[UUID]) -> str | None:
    name = f"{new.system.code} {new}"
    if new.pk == old.pk:
        return gettext("{name} would stay as it is. Name another key for it, or leave its doors out.").format(
            name=name
        )
    if new.is_control or new.is_retired:
        if new.is_control:
            return gettext("{name} is a control key. Name another key.").format(name=name)
        return gettext("{name} is retired. Name another key.").format(name=name)
    if new.system.format_id != old.system.format_id:
        return gettext("{name} is of another format than {code} {old}: the cores would not fit.").format(
            name=name, code=old.system.code, old=old
        )
    if new.system_id not in at_site:
        return gettext("{code} is not used at this site.").format(code=new.system.code)
    return None


def _given(
    site: Site, spares: Mapping[str, int], formats: Mapping[str, int], at_least: int = 1
) -> list[Core]:
    free, given = spares_at(site, formats), list[Core]()
    for name in formats:
        wanted = spares.get(name, 0)
        if wanted < at_least:
            raise Refused(
                gettext(
                    "Give one free core of the format {name} at least; it goes round from door to door."
                ).format(name=name)
            )
        if wanted > len(free[name]):
            raise Refused(
                ngettext(
                    "{counted} free core of the format {name} are not there: {site} has {free}. Register "
                    "more, or give fewer.",
                    "{counted} free cores of the format {name} are not there: {site} has {free}. Register "
                    "more, or give fewer.",
                    wanted,
                ).format(counted=wanted, name=name, site=site, free=len(free[name]))
            )
        given += free[name][:wanted]
    _refuse_taken(given)
    return given


def _refuse_taken(given: Sequence[Core]) -> None:
    """Held from here on; somebody may have given the same cores since they were listed."""
    hold(Core.objects.filter(pk__in=[core.pk for core in given]))
    if RotationCore.objects.filter(core__in=given, is_running=True).exists():
        raise Conflict(gettext("Some of these cores were taken for another rotation meanwhile. Look again."))


def _write_doors(rotation: Rotation, area: Area, keys: Mapping[UUID, KeySymbol]) -> None:
    pairs = [RotationKey(rotation=rotation, old=old, new=keys[old.pk]) for old in area.old_keys]
    by_old = {pair.old_id: pair for pair in RotationKey.objects.bulk_create(pairs, batch_size=ROWS_AT_ONCE)}
    together = shared_by(area.keyed)
    doors = [
        RotationDoor(
            rotation=rotation,
            housing=housing,
            format_id=area.cores[housing.pk].format_id,
            together=together[housing.pk],
        )
        for housing in area.housings
    ]
    RotationDoor.objects.bulk_create(doors, batch_size=ROWS_AT_ONCE)
    through = RotationDoor.keys.through
    through.objects.bulk_create(
        [
            through(rotationdoor_id=door.pk, rotationkey_id=by_old[key.pk].pk)
            for door in doors
            for key in area.keyed[door.housing_id]
        ],
        batch_size=ROWS_AT_ONCE,
    )


def shared_by(keyed: Mapping[UUID, Sequence[KeySymbol]]) -> dict[UUID, str]:
    """Under which name doors belong together: they share a key, or a chain of cross-keyed cores links them.

    Doors that share nothing have an empty name.
    """
    first: dict[UUID, KeySymbol] = {}

    def leader(key: KeySymbol) -> KeySymbol:
        while first.setdefault(key.pk, key).pk != key.pk:
            key = first[key.pk]
        return key

    for keys in keyed.values():
        for other in keys[1:]:
            first[leader(other).pk] = leader(keys[0])
    found = {housing: leader(keys[0]) for housing, keys in keyed.items()}
    doors: dict[UUID, int] = defaultdict(int)
    for key in found.values():
        doors[key.pk] += 1
    return {
        housing: f"{key.system.code} {key}" if doors[key.pk] > 1 else "" for housing, key in found.items()
    }
