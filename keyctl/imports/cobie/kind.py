"""COBie workbooks as a kind of import."""

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
LARGEST: Final = 40 * MEGABYTE
READER: Final = "keyctl.imports.cobie.reading:read_packed"
# A workbook of 100,000 doors is read in a minute and a half; its answer is some 30 MB.
BOUNDS: Final = Bounds(memory=768 * MEGABYTE, cpu=600, seconds=900.0, answer=128 * MEGABYTE)
SHEETS: Final = {"building": "Facility", "floor": "Floor", "space": "Space", "door": "Component"}


def read_cobie(content: bytes) -> Stated:
    return Stated.unpacked(run_confined(READER, content, bounds=BOUNDS))


def refuse_other_file(content: bytes) -> None:
    if content[:2] != b"PK":
        raise Refused(_("This is no workbook. Choose the hand-over as COBie, saved as .xlsx."))


def plan_cobie(given: Given) -> Found:
    given.step(0, 2, _("Reading the workbook"))
    yield from plan_stated(given, read_cobie(given.content), SHEETS)


COBIE: Final = Kind(
    name="cobie",
    label=gettext_lazy("COBie workbook"),
    hint=gettext_lazy("Doors, spaces and floors of a building as it is handed over (.xlsx)."),
    takers=TAKERS,
    things=THINGS,
    main="doors",
    plan=plan_cobie,
    accept=".xlsx",
    largest=LARGEST,
    suits=refuse_other_file,
)
