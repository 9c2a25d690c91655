"""Work on doors"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import ACCESS, DICTIONARY, FIRE_DOORS, LIFE_SAFETY, LOCKOUT, OWN, TRADE

WORDS = (
    Word(
        "rekey",
        pgettext_lazy("glossary", "rekey"),
        _("To change which keys work a lock, by new pins in its core or by another core."),
        DICTIONARY,
        ("core", "pin-stack", "rotation"),
    ),
    Word(
        "pinning",
        pgettext_lazy("glossary", "pinning"),
        _("Choosing the pins of a core for its keys and putting them in; also what stands in it then."),
        TRADE,
        ("pin-stack", "pinning-sheet"),
    ),
    Word(
        "pinning-sheet",
        pgettext_lazy("glossary", "pinning sheet"),
        _(
            "The paper at the bench that says which pin goes into which chamber. Pins tell bittings, so "
            "it is counted and destroyed after use."
        ),
        TRADE,
        ("pinning",),
    ),
    Word(
        "swap",
        pgettext_lazy("glossary", "swap"),
        _(
            "To take one core out of a door and put another one in, written down as one act so that no "
            "core is in two places."
        ),
        OWN,
        ("core", "control-key"),
    ),
    Word(
        "rotation",
        pgettext_lazy("glossary", "rotation"),
        _(
            "Rekeying an area in turns with few spare cores: those that come out are pinned anew and go "
            "in elsewhere."
        ),
        OWN,
        ("rekey", "wave"),
    ),
    Word(
        "wave",
        pgettext_lazy("glossary", "wave"),
        _(
            "The doors of a rotation that change on the same day, so that people need only carry two "
            "keys for a short time."
        ),
        OWN,
        ("rotation",),
    ),
    Word(
        "bench",
        pgettext_lazy("glossary", "bench"),
        _("The place where cores are pinned, read and measured."),
        TRADE,
        ("pinning", "decode"),
    ),
    Word(
        "egress",
        pgettext_lazy("glossary", "egress"),
        _(
            "The way out of a building. From the inside it must open without a key, a tool or special "
            "knowledge while people are there. The local code decides."
        ),
        LIFE_SAFETY,
        ("fire-rated-door", "authority"),
    ),
    Word(
        "fire-rated-door",
        pgettext_lazy("glossary", "fire-rated door"),
        _(
            "A door that was tested, with its frame and hardware, to hold back fire for a stated time. "
            "Altering it can void that, so what is fitted must be listed for it."
        ),
        FIRE_DOORS,
        ("egress", "authority"),
    ),
    Word(
        "authority",
        pgettext_lazy("glossary", "authority having jurisdiction"),
        _(
            "Whoever enforces the code at this place, such as a fire marshal or building office. Their "
            "word comes before anything that keyctl says."
        ),
        LIFE_SAFETY,
        ("egress", "fire-rated-door"),
    ),
    Word(
        "accessible-hardware",
        pgettext_lazy("glossary", "accessible hardware"),
        _(
            "Handles and locks that work with one hand, without tight grasping, pinching or twisting of "
            "the wrist, and without much force."
        ),
        ACCESS,
        ("egress",),
    ),
    Word(
        "lock-out",
        pgettext_lazy("glossary", "lock-out"),
        _(
            "Keeping machinery without power by a lock while somebody works on it. Only the person "
            "whose lock it is takes it off."
        ),
        LOCKOUT,
        ("key-copy",),
    ),
    Word(
        "lost-control-key",
        pgettext_lazy("glossary", "lost control key"),
        _(
            "A control key that is missing. Its cuts can be found again from the pins of some cores, "
            "and every core it takes out stands open until it is pinned anew."
        ),
        TRADE,
        ("control-key", "decode"),
    ),
    Word(
        "drilling",
        pgettext_lazy("glossary", "drilling"),
        _(
            "Destroying a core to get it out of a lock. The last resort, by licensed hands only, and "
            "not on a fire-rated door without asking."
        ),
        TRADE,
        ("decode", "lost-control-key"),
    ),
)
