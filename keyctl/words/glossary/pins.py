"""Cores and cylinders, and the pins inside them"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import DICTIONARY, OWN, TRADE

WORDS = (
    Word(
        "chamber",
        pgettext_lazy("glossary", "chamber"),
        _(
            "One of the holes across plug and shell in which a stack of pins and its spring stand. It "
            "lies over one position of the key."
        ),
        DICTIONARY,
        ("pin-stack", "position"),
    ),
    Word(
        "position",
        pgettext_lazy("glossary", "position"),
        _(
            "A place along the blade where a cut can stand. Positions are numbered from the tip or from "
            "the bow, as the format says."
        ),
        DICTIONARY,
        ("chamber", "cut"),
    ),
    Word(
        "pin-stack",
        pgettext_lazy("glossary", "pin stack"),
        _(
            "All pins of one chamber, from the key upwards: bottom pin, then master pins, then in some "
            "cores a control pin, then the top pin."
        ),
        TRADE,
        ("bottom-pin", "master-pin", "control-pin", "top-pin", "stack-total"),
    ),
    Word(
        "bottom-pin",
        pgettext_lazy("glossary", "bottom pin"),
        _(
            "The pin that stands on the key. Its length makes up for the depth of the shallowest cut "
            "that shall turn the core."
        ),
        DICTIONARY,
        ("pin-stack", "cut"),
    ),
    Word(
        "master-pin",
        pgettext_lazy("glossary", "master pin"),
        _(
            "A short pin between two others. It adds a break to the stack, so that one more cut of this "
            "position clears the line."
        ),
        DICTIONARY,
        ("pin-stack", "break", "master-key"),
    ),
    Word(
        "control-pin",
        pgettext_lazy("glossary", "control pin"),
        _(
            "The pin below the top pin in a core with a sleeve. Its upper end meets the control line "
            "when the control key is in."
        ),
        TRADE,
        ("control-line", "sleeve", "pin-stack"),
    ),
    Word(
        "top-pin",
        pgettext_lazy("glossary", "top pin"),
        _(
            "The pin under the spring. It fills the rest of the chamber, and blocks the line until the "
            "right key lifts the stack."
        ),
        DICTIONARY,
        ("pin-stack", "driver"),
    ),
    Word(
        "driver",
        pgettext_lazy("glossary", "driver"),
        _(
            "Another name for the top pin, used of ordinary cylinders, where its length is chosen so "
            "that all stacks press about alike."
        ),
        DICTIONARY,
        ("top-pin",),
    ),
    Word(
        "wafer",
        pgettext_lazy("glossary", "wafer"),
        _(
            "A short pin for the places above the bottom pin, counted in increments. Kits number it by "
            "how many increments long it is."
        ),
        TRADE,
        ("master-pin", "stack-total"),
    ),
    Word(
        "break",
        pgettext_lazy("glossary", "break"),
        _(
            "The gap between two pins of a stack, measured from below. A position lets the plug turn "
            "when one of its breaks lies at the shear line."
        ),
        OWN,
        ("shear-line", "master-pin"),
    ),
    Word(
        "shear-line",
        pgettext_lazy("glossary", "shear line"),
        _(
            "Where plug and shell meet. A key turns the plug only if no pin stands across this line in "
            "any chamber."
        ),
        DICTIONARY,
        ("plug", "shell", "control-line", "break"),
    ),
    Word(
        "operating-line",
        pgettext_lazy("glossary", "operating line"),
        _("The shear line at which a change key or master key turns the plug and works the lock."),
        OWN,
        ("shear-line", "control-line"),
    ),
    Word(
        "control-line",
        pgettext_lazy("glossary", "control line"),
        _(
            "The second shear line, around the sleeve. If all stacks part there, the key turns the "
            "sleeve and the core comes out."
        ),
        TRADE,
        ("sleeve", "control-key", "operating-line"),
    ),
    Word(
        "control-addition",
        pgettext_lazy("glossary", "control addition"),
        _("How many increments the control line lies above the operating line in a format with a sleeve."),
        TRADE,
        ("control-line", "increment"),
    ),
    Word(
        "stack-total",
        pgettext_lazy("glossary", "stack total"),
        _(
            "What the pins of one chamber must add up to, in increments, so that the spring is pressed "
            "as it should be."
        ),
        TRADE,
        ("pin-stack", "control-addition"),
    ),
    Word(
        "increment",
        pgettext_lazy("glossary", "increment"),
        _("The difference in length from one depth of cut, or one size of pin, to the next."),
        DICTIONARY,
        ("depth", "stack-total"),
    ),
    Word(
        "format",
        pgettext_lazy("glossary", "format"),
        _(
            "All figures of one construction of cores in one record: positions, depths, increment, "
            "totals, pin sizes and what takes the core out."
        ),
        OWN,
        ("increment", "depth", "macs", "stack-total"),
    ),
    Word(
        "small-format",
        pgettext_lazy("glossary", "small format"),
        _(
            "A family of cores with a figure-eight outline that fit any housing made for that outline. "
            "The sleeve lies over every chamber."
        ),
        TRADE,
        ("format", "sleeve"),
    ),
    Word(
        "large-format",
        pgettext_lazy("glossary", "large format"),
        _("A family of bigger cores whose sleeve usually lies over some of the chambers only."),
        TRADE,
        ("format", "sleeve"),
    ),
    Word(
        "fixed-cylinder",
        pgettext_lazy("glossary", "fixed cylinder"),
        _("A cylinder that no control key takes out. To change its keys it is dismounted and pinned anew."),
        TRADE,
        ("cylinder", "rekey"),
    ),
    Word(
        "pin-kit",
        pgettext_lazy("glossary", "pin kit"),
        _(
            "The box of pins by kind and size from which cores are pinned. What it lacks no core can be "
            "given."
        ),
        TRADE,
        ("wafer", "increment"),
    ),
    Word(
        "residual",
        pgettext_lazy("glossary", "residual"),
        _(
            "How far a measured break stands from the line it belongs to: above it if the pins below "
            "are too long, below it if too short."
        ),
        OWN,
        ("shear-line", "tolerance", "break"),
    ),
    Word(
        "tolerance",
        pgettext_lazy("glossary", "tolerance"),
        _("How far a measured length may be from its nominal figure and still count as it."),
        DICTIONARY,
        ("residual", "worn-key"),
    ),
)
