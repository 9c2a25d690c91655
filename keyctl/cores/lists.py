"""The lists of doors and of cores as people may want them, and what is done to many of them at once."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.listing import find_cores, find_doors
from keyctl.cores.models import Core
from keyctl.cores.services import move_core
from keyctl.cores.services.register import KEEPERS
from keyctl.lib.errors import Refused
from keyctl.lib.identifiers import read_uuid
from keyctl.listing.declaring import Act, ActForm, Column, List, Said, Word
from keyctl.places.access import visible_buildings, visible_sites
from keyctl.places.forms import EstateFilter
from keyctl.places.models import Door
from keyctl.places.roles import DOOR_KEEPERS, STAFF
from keyctl.places.services import change_door

SEEN = gettext_lazy("Only what the label on door and frame, or the records of the authority, say.")
CODES_FIRST = gettext_lazy(
    "Set only what somebody has seen at each of these doors. Local codes and the authority that enforces "
    "them decide what a door must be; so does the judgement of a licensed locksmith."
)
# The places of a core in hand; what is gone does not come back, so it is written off one by one.
IN_HAND = [
    (Core.Place.SHELF, gettext_lazy("On the shelf")),
    (Core.Place.BENCH, gettext_lazy("On the bench")),
    (Core.Place.CASE, gettext_lazy("In my case")),
]


class HardwareMany(ActForm):
    hardware_set = forms.CharField(
        max_length=60,
        required=False,
        label=gettext_lazy("Hardware set"),
        help_text=gettext_lazy("As the door schedule calls it. Empty takes it off."),
    )


class ClassMany(ActForm):
    door_class = forms.ChoiceField(choices=Door.DoorClass.choices, label=gettext_lazy("Class"))


class RatingMany(ActForm):
    """A rating warns until somebody has said what the door is; so it is taken off door by door alone."""

    fire_rating = forms.CharField(max_length=60, label=gettext_lazy("Stated fire rating"), help_text=SEEN)


class CautionMany(ActForm):
    """Cautions are only added here: taking one away wants a look at the door."""

    caution = forms.ChoiceField(
        choices=[
            ("is_fire_rated", gettext_lazy("They are fire-rated")),
            ("is_egress", gettext_lazy("People leave through them in an emergency")),
        ],
        label=gettext_lazy("What to warn of"),
        help_text=SEEN,
    )


class PlaceMany(ActForm):
    place = forms.ChoiceField(label=gettext_lazy("Where are they now?"), choices=IN_HAND)


def _doors(actor: User, said: Said) -> "QuerySet[Door]":
    wanted = EstateFilter(actor, said)
    return find_doors(actor, wanted.text, site=wanted.chosen_site, building=wanted.chosen_building)


def _cores(actor: User, said: Said) -> "QuerySet[Core]":
    site = EstateFilter(actor, said).chosen_site
    return find_cores(actor, said.get("core", ""), site=site, place=said.get("place", ""))


def _site(reader: User, value: str) -> str:
    found = visible_sites(reader).filter(pk=pk).first() if (pk := read_uuid(value)) else None
    return str(found or "")


def _building(reader: User, value: str) -> str:
    found = visible_buildings(reader).filter(pk=pk).first() if (pk := read_uuid(value)) else None
    return str(found or "")


def _place(_reader: User, value: str) -> str:
    return str(Core.Place(value).label) if value in Core.Place.values else ""


def _change(actor: User, door: Door, **facts: Any) -> None:
    change_door(actor=actor, door=door, **facts)


def _caution(actor: User, door: Door, *, caution: str) -> None:
    _change(actor, door, **{caution: True})


def _change_back(actor: User, door: Door, before: Mapping[str, Any]) -> None:
    """Also a caution that was added: by the rule of the door's own page, which lets no program do it."""
    _change(actor, door, **before)


def _move(actor: User, core: Core, *, place: str) -> None:
    """A core stays in the case that it is in only if the case is one's own."""
    if place == core.place and core.carrier in {None, actor}:
        return
    move_core(actor=actor, core=core, version=core.version, place=place)


def _move_back(actor: User, core: Core, before: Mapping[str, Any]) -> None:
    carrier = before["carrier"]
    if carrier and carrier != actor.pk:
        raise Refused(
            _("It was in the case of {name}: only who carries it says so.").format(
                name=User.objects.get(pk=carrier)
            )
        )
    move_core(actor=actor, core=core, version=core.version, place=before["place"])


def _door_act(name: str, label: Any, form: type[ActForm], touches: Mapping[str, Any], **facts: Any) -> Act:
    does = facts.pop("does", _change)
    return Act(
        name=name,
        label=label,
        roles=DOOR_KEEPERS,
        form=form,
        touches=touches,
        does=does,
        undoes=_change_back,
        **facts,
    )


DOORS = List(
    name="doors",
    title=gettext_lazy("Doors"),
    things="doors",
    page="cores:estate",
    model=Door,
    row="door",
    cells="cores/_door_cells.html",
    readers=STAFF,
    rows=_doors,
    worked_by=("floor_id", "pk"),
    site="floor__building__site",
    words=(
        Word("q", gettext_lazy("Words")),
        Word("site", gettext_lazy("Site"), _site),
        Word("building", gettext_lazy("Building"), _building),
    ),
    columns=(
        Column("door", gettext_lazy("Door"), sorts=("number",), heads=True),
        Column("room", gettext_lazy("Room"), sorts=("name",)),
        Column("where", gettext_lazy("Where")),
        Column("door_class", gettext_lazy("Class"), sorts=("door_class",)),
        Column("cautions", gettext_lazy("Cautions")),
        Column("core", gettext_lazy("Core")),
        Column("site", gettext_lazy("Site"), shown=False),
        Column("hardware_set", gettext_lazy("Hardware set"), shown=False),
        Column("fire_rating", gettext_lazy("Stated fire rating"), shown=False),
        Column("stated_use", gettext_lazy("Stated use"), shown=False),
        Column("serial_number", gettext_lazy("Serial number"), shown=False),
        Column("asset_tag", gettext_lazy("Asset tag"), shown=False),
        Column("bar_code", gettext_lazy("Bar code"), shown=False),
        Column("note", gettext_lazy("Note"), shown=False, css="free-text"),
    ),
    acts=(
        _door_act(
            "hardware",
            gettext_lazy("Set the hardware set"),
            HardwareMany,
            {"hardware_set": gettext_lazy("Hardware set")},
        ),
        _door_act(
            "class",
            gettext_lazy("Set the class"),
            ClassMany,
            {"door_class": gettext_lazy("Class")},
            caution=CODES_FIRST,
        ),
        _door_act(
            "rating",
            gettext_lazy("Set the stated fire rating"),
            RatingMany,
            {"fire_rating": gettext_lazy("Stated fire rating")},
            caution=CODES_FIRST,
        ),
        _door_act(
            "caution",
            gettext_lazy("Add a caution"),
            CautionMany,
            {"is_fire_rated": gettext_lazy("Fire-rated"), "is_egress": gettext_lazy("A way out")},
            does=_caution,
            caution=CODES_FIRST,
        ),
    ),
)

CORES = List(
    name="cores",
    title=gettext_lazy("Cores"),
    things="cores",
    page="cores:list",
    model=Core,
    row="core",
    cells="cores/_core_cells.html",
    readers=STAFF,
    rows=_cores,
    words=(
        Word("core", gettext_lazy("Words")),
        Word("site", gettext_lazy("Site"), _site),
        Word("place", gettext_lazy("Place"), _place),
    ),
    columns=(
        Column("core", gettext_lazy("Core"), sorts=("tag",), heads=True, css="nowrap"),
        Column("keyed_to", gettext_lazy("Keyed to")),
        Column("system", gettext_lazy("Key system")),
        Column("place", gettext_lazy("Where")),
        Column("state", gettext_lazy("State")),
        Column("site", gettext_lazy("Site")),
        Column("format", gettext_lazy("Core format"), shown=False),
        Column("pinned", gettext_lazy("Pinned"), shown=False, css="nowrap"),
    ),
    acts=(
        Act(
            name="place",
            label=gettext_lazy("Say where they are"),
            roles=KEEPERS,
            form=PlaceMany,
            touches={"place": gettext_lazy("Where"), "carrier": gettext_lazy("In the case of")},
            does=_move,
            undoes=_move_back,
        ),
    ),
)
