"""Where to begin while there is nothing yet: the steps of the first hour, and which are done."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Model, QuerySet
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _

from keyctl.cores.models import Core
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Door, Site
from keyctl.places.roles import Role
from keyctl.start.blocks import Morning
from keyctl.systems.models import KeySystem

BEGINNING = (Role.LOCKSMITH, Role.ADMINISTRATOR)
GUIDES = "guides:list"


@dataclass(frozen=True)
class Step:
    label: str
    url: str
    act: str
    is_done: bool = False
    is_current: bool = False


@dataclass(frozen=True)
class Beginning:
    steps: list[Step]
    guides: str

    @property
    def is_bare(self) -> bool:
        """Not even a door is written down."""
        return not self.steps[0].is_done

    @property
    def next(self) -> Step | None:
        return next((step for step in self.steps if step.is_current), None)


def beginning(morning: Morning) -> Beginning | None:
    """Until a first core is in a door and a first key is cut; then the page speaks for itself."""
    sites = morning.sites_of(*BEGINNING)
    if not morning.roles & set(BEGINNING):
        return None
    done = _done(sites)
    if all(done):
        return None
    return Beginning(_steps(morning, done), _guides())


def _done(sites: QuerySet[Site]) -> list[bool]:
    """Each asked by its first row."""
    pks = list(sites.order_by().values_list("pk", flat=True))
    cores = Core.objects.filter(site__in=pks)
    asked: list[QuerySet[Any]] = [
        Door.objects.filter(floor__building__site__in=pks),
        KeySystem.objects.filter(sites__in=pks),
        cores.filter(pinned_at__isnull=False),
        cores.filter(place=Core.Place.HOUSING),
        KeyCopy.objects.filter(site__in=pks),
    ]
    return [_any(rows) for rows in asked]


def _any(rows: "QuerySet[Model]") -> bool:
    return rows.order_by().exists()


def _steps(morning: Morning, done: list[bool]) -> list[Step]:
    places = "places:list" if Role.ADMINISTRATOR in morning.roles else "imports:list"
    rows = (
        (_("Write doors down, or bring in a list of them"), places, _("Begin with the doors")),
        (_("Make a key system, or bring one in"), "systems:list", _("Make a key system")),
        (_("Pin the first cores"), "orders:list", _("Open an order for the bench")),
        (_("Put them into their doors"), "orders:list", _("Open an order at doors")),
        (_("Cut a key and hand it out"), "keys:desk", _("Go to the keys")),
    )
    first = done.index(False)
    return [
        Step(label, reverse(name), act, is_done=done[nth], is_current=nth == first)
        for nth, (label, name, act) in enumerate(rows)
    ]


def _guides() -> str:
    """Nothing where this installation is served without its guides."""
    try:
        return reverse(GUIDES)
    except NoReverseMatch:
        return ""
