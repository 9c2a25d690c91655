"""Cores whose whereabouts are disputed, and how a person's word settles them.

Inside an act whose own service has asked for its role and tells history.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import DateTimeField, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.services.locking import locked_cores
from keyctl.lib.errors import Refused
from keyctl.lib.holding import hold
from keyctl.places.models import Housing

Place = Core.Place

# More acts than any tablet holds unsent of one core: none that was written before the decision, with a
# version reckoned ahead, meets the version after it.
SETTLED_JUMP = 1000


@dataclass(frozen=True)
class Whereabouts:
    """Where a core really is, as a person says."""

    place: str
    housing: Housing | None = None
    carrier: User | None = None


def dispute_cores(*, cores: Iterable[UUID], over: str) -> None:
    """Mark them; the mark of a core that is disputed already now names this case."""
    since = Coalesce("disputed_at", Value(timezone.now()), output_field=DateTimeField())
    Core.objects.filter(pk__in=list(cores)).update(disputed_at=since, disputed_over=over)


@dataclass(frozen=True)
class Settled:
    """Where the cores are now, and who gave way to them while disputed in another case."""

    cores: list[Core]
    pushed_out: list[Core]


def settle_cores(*, places: Mapping[UUID, Whereabouts]) -> Settled:
    """Put every core where it really is and clear its mark; plans by an older version are stale."""
    cores = list(locked_cores(places).values())
    for core in cores:
        _refuse_impossible(core, places[core.pk])
    _refuse_crowded(cores, places)
    # All out first: a housing holds one core at every moment.
    Core.objects.filter(pk__in=places).update(place=Place.BENCH, housing=None, carrier=None)
    pushed = _push_out_disputed(places)
    for core in cores:
        _put(core, places[core.pk])
    return Settled(cores, pushed)


def _put(core: Core, where: Whereabouts) -> None:
    core.place, core.housing, core.carrier = where.place, where.housing, where.carrier
    core.disputed_at, core.disputed_over = None, ""
    core.version += SETTLED_JUMP
    core.save(update_fields=["place", "housing", "carrier", "disputed_at", "disputed_over", "version"])


def _push_out_disputed(places: Mapping[UUID, Whereabouts]) -> list[Core]:
    """Who is disputed in another case gives way; where it is, that case settles."""
    wanted = [where.housing for where in places.values() if where.housing]
    hold(Core.objects.filter(housing__in=wanted))
    pushed = list(Core.objects.filter(housing__in=wanted).defer("pinning"))
    for core in pushed:
        core.place, core.housing, core.version = Place.BENCH, None, core.version + SETTLED_JUMP
        core.save(update_fields=["place", "housing", "version"])
    return pushed


def _refuse_impossible(core: Core, where: Whereabouts) -> None:
    if where.place not in Place.values:
        raise Refused(_("Say of core {core} where it is; choose a place of the list.").format(core=core))
    if (where.place == Place.HOUSING) != (where.housing is not None):
        raise Refused(_("Say in which door core {core} is, or that it is in none.").format(core=core))
    if (where.place == Place.CASE) != (where.carrier is not None):
        raise Refused(_("Say in whose case core {core} is, or that it is in nobody's.").format(core=core))
    if where.housing is not None:
        _refuse_unfit(core, where.housing)


def _refuse_unfit(core: Core, housing: Housing) -> None:
    if housing.door.site.pk != core.site_id:
        raise Refused(
            _("Core {core} belongs to another site than {housing}.").format(core=core, housing=housing)
        )
    if core.construction != housing.construction:
        raise Refused(
            _(
                "Core {core} is {construction} and {housing} takes {construction_2} cores. Read its tag "
                "again."
            ).format(
                core=core,
                construction=core.construction,
                housing=housing,
                construction_2=housing.construction,
            )
        )


def _refuse_crowded(cores: Sequence[Core], places: Mapping[UUID, Whereabouts]) -> None:
    """A housing holds one core; whoever stood in it by the register must be placed in the same decision."""
    wanted: dict[UUID, Core] = {}
    for core in cores:
        if housing := places[core.pk].housing:
            if other := wanted.get(housing.pk):
                raise Refused(
                    _("{housing} holds one core: {other} or {core}. Say where the other one is.").format(
                        housing=housing, other=other, core=core
                    )
                )
            wanted[housing.pk] = core
    undisputed = Core.objects.with_places().filter(housing__in=wanted, disputed_at=None)
    for pushed in undisputed.exclude(pk__in=places):
        raise Refused(
            _("By the register core {pushed} is in {housing}. Say where that one really is as well.").format(
                pushed=pushed, housing=pushed.housing
            )
        )
