"""Building models in IFC as a kind of import. The library that reads them is not needed for anything else."""

from importlib.util import find_spec
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.imports.buildings.places import Found
from keyctl.imports.buildings.plan import TAKERS, THINGS, plan_stated
from keyctl.imports.buildings.stated import Stated
from keyctl.imports.kinds import Given, Kind
from keyctl.lib.confined import Bounds, run_confined
from keyctl.lib.errors import Refused

MEGABYTE: Final = 1024 * 1024
LARGEST: Final = 100 * MEGABYTE
LIBRARY: Final = "ifcopenshell"
READER: Final = "keyctl.imports.ifc.reading:read_packed"
# A model takes some ten times its size in memory, and some seconds for each 10 MB.
BOUNDS: Final = Bounds(memory=2048 * MEGABYTE, cpu=300, seconds=450.0, answer=128 * MEGABYTE)
SHEETS: Final = {
    "building": "IfcBuilding",
    "floor": "IfcBuildingStorey",
    "space": "IfcSpace",
    "door": "IfcDoor",
}
BEGINNING: Final = b"ISO-10303-21"


def read_ifc(content: bytes) -> Stated:
    refuse_without_library()
    return Stated.unpacked(run_confined(READER, content, bounds=BOUNDS, needs=("numpy",)))


def refuse_without_library() -> None:
    if find_spec(LIBRARY) is None:
        raise Refused(
            _(
                "The library that reads IFC models is not installed here. Install it with “.venv/bin/pip "
                "install -r .deploy/requirements-ifc.txt”, or bring the building in as COBie."
            )
        )


def refuse_other_file(content: bytes) -> None:
    """Before the file is kept, so that nobody waits for a dry run to learn it."""
    refuse_without_library()
    if content[:2] == b"PK":
        raise Refused(
            _("This is a packed model (.ifczip) or a workbook. Unpack it, and bring in the .ifc file.")
        )
    if BEGINNING not in content[:200]:
        raise Refused(_("This is no IFC model. Choose a file that a modelling program saved as IFC (.ifc)."))


def plan_ifc(given: Given) -> Found:
    given.step(0, 2, _("Reading the model"))
    yield from plan_stated(given, read_ifc(given.content), SHEETS)


IFC: Final = Kind(
    name="ifc",
    label=gettext_lazy("IFC model"),
    hint=gettext_lazy("Doors, spaces and floors of a building as it is modelled (.ifc, IFC 2x3 or IFC 4)."),
    takers=TAKERS,
    things=THINGS,
    main="doors",
    plan=plan_ifc,
    accept=".ifc",
    largest=LARGEST,
    suits=refuse_other_file,
)
