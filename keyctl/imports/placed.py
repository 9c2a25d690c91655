"""Places as imports write them: what stands on what, and what people call its columns."""

from django.utils.translation import gettext_lazy

from keyctl.imports.records import Records
from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Space

BUILDINGS = Records(
    "buildings",
    gettext_lazy("Buildings"),
    Building,
    {"code": gettext_lazy("Code"), "name": gettext_lazy("Name")},
)
FLOORS = Records(
    "floors",
    gettext_lazy("Floors"),
    Floor,
    {"label": gettext_lazy("Floor"), "level": gettext_lazy("Level"), "building_id": gettext_lazy("Building")},
)
SPACES = Records(
    "spaces",
    gettext_lazy("Spaces"),
    Space,
    {"number": gettext_lazy("Number"), "name": gettext_lazy("Name"), "floor_id": gettext_lazy("Floor")},
)
DOORS = Records(
    "doors",
    gettext_lazy("Doors"),
    Door,
    {
        "number": gettext_lazy("Number"),
        "name": gettext_lazy("Room"),
        "door_class": gettext_lazy("Class"),
        "is_egress": gettext_lazy("Way out in an emergency"),
        "is_fire_rated": gettext_lazy("Fire-rated"),
        "hardware_set": gettext_lazy("Hardware set"),
        "fire_rating": gettext_lazy("Stated rating"),
        "stated_use": gettext_lazy("Stated use"),
        "serial_number": gettext_lazy("Serial number"),
        "asset_tag": gettext_lazy("Asset tag"),
        "bar_code": gettext_lazy("Bar code"),
        "spaces": gettext_lazy("Spaces"),
        "note": gettext_lazy("Note"),
    },
)
HOUSINGS = Records(
    "housings",
    gettext_lazy("Housings"),
    Housing,
    {
        "kind": gettext_lazy("Lock"),
        "construction": gettext_lazy("Cores it takes"),
        "label": gettext_lazy("Label"),
    },
)
IDENTIFIERS = Records(
    "identifiers",
    gettext_lazy("Identifiers"),
    Identifier,
    {
        "source": gettext_lazy("Known to"),
        "value": gettext_lazy("Identifier"),
        "name": gettext_lazy("Name there"),
    },
)
