"""Which field of the form an engine's sentence about a parameter belongs to."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine

# By the place that the sentence names before its colon, without the leading word 'format'.
FIELDS = {
    "id": "format_id",
    "name": "name",
    "construction": "construction",
    "positions": "positions",
    "depths": "depths",
    "depth_values": "depth_values",
    "increment_in": "increment",
    "base_pin_in": "base_pin",
    "step": "step",
    "macs": "macs",
    "order": "order",
    "control": "sleeve_positions",
    "control, kind": "control_kind",
    "control, positions": "sleeve_positions",
    "control, addition": "addition",
    "control, numbering": "numbering",
    "total, plain": "total_plain",
    "total, sleeve": "total_sleeve",
    "drivers": "drivers",
    "pins": "pins_control",
    "pins, bottom": "pins_bottom",
    "pins, master": "pins_master",
    "pins, control": "pins_control",
    "pins, top": "pins_top",
    "first_cut_in": "first_cut",
    "spacing_in": "spacing",
    "plug_diameter_in": "plug_diameter",
}
ROW = "drivers, row "
# The parameters' names as the page's words.
WORDS = {
    "`plain`": gettext_lazy("a total"),
    "`sleeve`": gettext_lazy("the total"),
    "`drivers`": gettext_lazy("drivers"),
    "`control`": gettext_lazy("control"),
}


def field_errors(refused: engine.RefusedByEngine) -> list[tuple[str | None, str]]:
    """Field and sentence; None for a sentence that belongs to no field of the form, which stays whole."""
    pairs = zip(refused.fields, refused.reasons, strict=True)
    return [_field_error(place or "", wrong, whole) for (place, wrong), whole in pairs]


def _field_error(place: str, wrong: str, whole: str) -> tuple[str | None, str]:
    place, reason = place.removeprefix("format, "), wrong
    for code, words in WORDS.items():
        reason = reason.replace(code, str(words))
    if place.startswith(ROW):
        return "drivers", _("Row {row}: {reason}").format(row=place.removeprefix(ROW), reason=reason)
    if place == "total":
        return "total_sleeve" if "`sleeve`" in wrong else "total_plain", _sentence(reason)
    field = FIELDS.get(place)
    return field, _sentence(reason) if field else whole


def _sentence(reason: str) -> str:
    return reason[:1].upper() + reason[1:]
