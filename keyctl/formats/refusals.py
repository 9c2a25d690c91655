"""Which field of the form an engine's sentence about a parameter belongs to."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

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
    "`plain`": "a total",
    "`sleeve`": "the total",
    "`drivers`": "drivers",
    "`control`": "control",
}


def field_errors(sentences: Iterable[str]) -> list[tuple[str | None, str]]:
    """Field and sentence; None for a sentence that belongs to no field of the form, which stays whole."""
    return [_field_error(sentence) for sentence in sentences]


def _field_error(sentence: str) -> tuple[str | None, str]:
    place, _colon, reason = sentence.partition(": ")
    place = place.removeprefix("format, ")
    for code, words in WORDS.items():
        reason = reason.replace(code, words)
    if place.startswith(ROW):
        return "drivers", _("Row {row}: {reason}").format(row=place.removeprefix(ROW), reason=reason)
    if place == "total":
        return "total_sleeve" if "`sleeve`" in sentence else "total_plain", _sentence(reason)
    field = FIELDS.get(place)
    return field, _sentence(reason) if field else sentence


def _sentence(reason: str) -> str:
    return reason[:1].upper() + reason[1:]
