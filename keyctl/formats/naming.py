"""What a format is called: the package's in the language of the page, a shop's own as the shop wrote it."""

from django.utils.translation import gettext, gettext_noop

from keyctl.engine import CoreFormat
from keyctl.formats.source import built_in_names
from keyctl.lib.marked import fill

# As the package writes them; the number of positions is put in.
POSITIONS = "{positions} positions"
NAMES = (
    gettext_noop("Ordinary fixed cylinder, {positions} positions"),
    gettext_noop("Ordinary fixed cylinder, {positions} positions, stacks of one total"),
    gettext_noop("Full-size core, tip-operated control pin, {positions} positions"),
    gettext_noop("Large-format core, sleeve over positions 2 to 5"),
    gettext_noop("Large-format core, sleeve over positions 3 and 4"),
    gettext_noop("Padlock core held by a screw, {positions} positions"),
    gettext_noop("Small-format core, A2 system, {positions} positions"),
    gettext_noop("Small-format core, A3 system, {positions} positions"),
    gettext_noop("Small-format core, A4 system, {positions} positions"),
)


def name_of(format: CoreFormat) -> str:
    if format.id not in built_in_names():
        return format.name
    text = format.name.replace(POSITIONS.format(positions=format.positions), POSITIONS)
    return fill(gettext(text), {"positions": format.positions})
