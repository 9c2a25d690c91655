"""Keys and how they are cut"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import DICTIONARY, OWN, PE3, TRADE

WORDS = (
    Word(
        "blank",
        pgettext_lazy("glossary", "blank"),
        _("A key without cuts, made for a keyway."),
        DICTIONARY,
        ("keyway", "cut", "control-blank"),
    ),
    Word(
        "control-blank",
        pgettext_lazy("glossary", "control blank"),
        _(
            "A blank with a longer tip, for cores that the tip takes out. Whatever works the lock takes "
            "the core out when cut on it, so these blanks are counted."
        ),
        TRADE,
        ("blank", "control-key"),
    ),
    Word(
        "keyway",
        pgettext_lazy("glossary", "keyway"),
        _("The slot in the plug, seen from the front. Only blanks whose outline fits go in."),
        DICTIONARY,
        ("blank", "plug"),
    ),
    Word(
        "blade",
        pgettext_lazy("glossary", "blade"),
        _("The part of a key that goes into the keyway and carries the cuts."),
        DICTIONARY,
        ("bow", "tip", "cut"),
    ),
    Word(
        "bow",
        pgettext_lazy("glossary", "bow"),
        _("The end of a key that the hand holds. Marks are stamped there."),
        DICTIONARY,
        ("blade", "tip"),
    ),
    Word(
        "tip",
        pgettext_lazy("glossary", "tip"),
        _("The end of a key that enters first. Some formats count and measure the cuts from it."),
        DICTIONARY,
        ("bow", "blade"),
    ),
    Word(
        "shoulder",
        pgettext_lazy("glossary", "shoulder"),
        _(
            "A stop between bow and blade which tells how far the key goes in. Cuts that are counted "
            "from the bow are measured from it."
        ),
        DICTIONARY,
        ("bow", "tip"),
    ),
    Word(
        "cut",
        pgettext_lazy("glossary", "cut"),
        _("The notch in one position of a key. Its depth decides how far it lifts the stack above it."),
        DICTIONARY,
        ("depth", "position", "bitting"),
    ),
    Word(
        "depth",
        pgettext_lazy("glossary", "depth"),
        _("How deep a cut is, as a number or letter from shallow to deep."),
        DICTIONARY,
        ("cut", "increment"),
    ),
    Word(
        "root-depth",
        pgettext_lazy("glossary", "root depth"),
        _(
            "What is left of the blade at the bottom of a cut, measured from the plain edge. Calipers "
            "read this."
        ),
        DICTIONARY,
        ("cut", "depth"),
    ),
    Word(
        "bitting",
        pgettext_lazy("glossary", "bitting"),
        _(
            "The cuts of a key in order, written as a row of depths. Whoever knows it can make the key, "
            "so it is kept as a secret."
        ),
        DICTIONARY,
        ("cut", "reveal", "sealed"),
    ),
    Word(
        "macs",
        pgettext_lazy("glossary", "MACS"),
        _(
            "Maximum adjacent cut specification: by how many depths two neighbouring cuts may differ at "
            "most. A steeper step would cut away its neighbour or let the key jam."
        ),
        DICTIONARY,
        ("cut", "depth"),
    ),
    Word(
        "decode",
        pgettext_lazy("glossary", "decode"),
        _("To find a bitting from a key or from pins, by measuring them."),
        DICTIONARY,
        ("bitting", "root-depth"),
    ),
    Word(
        "worn-key",
        pgettext_lazy("glossary", "worn key"),
        _(
            "A key whose cuts became deeper by use. It still works until the pins stand too far below "
            "the line."
        ),
        TRADE,
        ("tolerance", "root-depth"),
    ),
    Word(
        "duplicate",
        pgettext_lazy("glossary", "duplicate"),
        _(
            "A key cut after another one. A worn key hands its wear on, so keyctl has keys cut by their "
            "bitting."
        ),
        DICTIONARY,
        ("key-copy", "blank"),
    ),
    Word(
        "key-copy",
        pgettext_lazy("glossary", "key copy"),
        _(
            "One cut key of metal, with its own number. Several copies can have one symbol, and each is "
            "in one place or with one person."
        ),
        OWN,
        ("serial", "custody"),
    ),
    Word(
        "serial",
        pgettext_lazy("glossary", "serial"),
        _(
            "The number on one copy that tells it from all others cut alike, so that it can be counted "
            "and missed."
        ),
        PE3,
        ("key-copy", "count"),
    ),
    Word(
        "tag",
        pgettext_lazy("glossary", "tag"),
        _(
            "A short random code on a label or key. It tells nothing to whoever finds it, and leads to "
            "the record for whoever may read it."
        ),
        OWN,
        ("core", "scan"),
    ),
    Word(
        "scan",
        pgettext_lazy("glossary", "scan"),
        _("To read a printed code by a scanner or a camera, in place of typing it."),
        OWN,
        ("tag", "tray"),
    ),
)
