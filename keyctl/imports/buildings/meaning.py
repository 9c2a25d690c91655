"""Which properties of a door mean what here, by whatever file they come."""

from collections.abc import Mapping
from typing import Final

from django.utils.translation import gettext as _

# By the property's name without case, blanks and strokes; `facts_of` gives them in the order of FACTS.
MEANT: Final = {
    "hardwareset": "hardware_set",
    "hardwaregroup": "hardware_set",
    "firerating": "fire_rating",
    "fireresistancerating": "fire_rating",
    "serialnumber": "serial_number",
    "tagnumber": "asset_tag",
    "barcode": "bar_code",
    "doornumber": "number",
    "fireexit": "fire exit",
    "isfireexit": "fire exit",
    "handicapaccessible": "accessible",
    "isexternal": "external",
}
# The texts of a door by its fields; `stated_use` is made of the uses that are true.
FACTS: Final = ("hardware_set", "fire_rating", "stated_use", "serial_number", "asset_tag", "bar_code")
USES: Final = ("fire exit", "accessible", "external")
YES, NO = "yes", "no"
TRUTHS: Final = {"true": YES, "yes": YES, "1": YES, "false": NO, "no": NO, "0": NO}
LONGEST: Final = 60


def meant_by(name: str) -> str:
    """
    >>> meant_by("Hardware Set"), meant_by("Fire-Rating"), meant_by("Width")
    ('hardware_set', 'fire_rating', '')
    """
    return MEANT.get(name.casefold().translate({ord(sign): None for sign in " -_"}), "")


def value_of(meant: str, text: str) -> tuple[str, str]:
    """What the text says, and what is wrong with it. A template's placeholder repeats the property's name.

    >>> value_of("fire_rating", "Fire Rating"), value_of("fire_rating", "EI 30"), value_of("external", "TRUE")
    (('', ''), ('EI 30', ''), ('yes', ''))
    """
    if not text or meant_by(text) == meant:
        return "", ""
    if meant in USES:
        truth = TRUTHS.get(text.casefold(), "")
        return truth, "" if truth else _("“{text}” is neither yes nor no.").format(text=text)
    return (
        (text, "")
        if len(text) <= LONGEST
        else ("", _("More than {longest} signs stand here.").format(longest=LONGEST))
    )


def facts_of(said: Mapping[str, str]) -> tuple[str, ...]:
    """
    >>> facts_of({"fire_rating": "EI 30", "external": "yes", "fire exit": "no"})
    ('', 'EI 30', 'external', '', '', '')
    """
    uses = ", ".join(use for use in USES if said.get(use) == YES)
    return tuple(uses if fact == "stated_use" else said.get(fact, "") for fact in FACTS)
