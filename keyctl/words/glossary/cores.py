"""Cores and cylinders, and the pins inside them"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import CYLINDERS, DICTIONARY, TRADE

WORDS = (
    Word(
        "core",
        pgettext_lazy("glossary", "core"),
        _(
            "The part of a lock that takes the key and can be drawn out whole with a control key, so "
            "that another goes in without taking the lock apart. It carries its own pins and springs."
        ),
        DICTIONARY,
        ("sleeve", "plug", "control-key", "housing"),
    ),
    Word(
        "housing",
        pgettext_lazy("glossary", "housing"),
        _(
            "What a core sits in: a mortise or rim cylinder body, a lever, a padlock, a cabinet lock. "
            "It stays on the door when the core goes."
        ),
        TRADE,
        ("core", "cylinder"),
    ),
    Word(
        "cylinder",
        pgettext_lazy("glossary", "cylinder"),
        _(
            "The whole unit that a key turns: plug, shell, pins and springs, with the tail or cam "
            "behind that moves the bolt."
        ),
        CYLINDERS,
        ("plug", "shell", "core"),
    ),
    Word(
        "mortise-cylinder",
        pgettext_lazy("glossary", "mortise cylinder"),
        _(
            "A threaded cylinder that is screwed into the edge-mounted lock case of a door and held by "
            "a set screw."
        ),
        CYLINDERS,
        ("cylinder", "rim-cylinder"),
    ),
    Word(
        "rim-cylinder",
        pgettext_lazy("glossary", "rim cylinder"),
        _(
            "A cylinder behind the face of a door, held by screws from the inside, with a flat tail "
            "that reaches into a lock on the door’s surface."
        ),
        CYLINDERS,
        ("cylinder", "mortise-cylinder"),
    ),
    Word(
        "plug",
        pgettext_lazy("glossary", "plug"),
        _(
            "The round inner part that holds the keyway and turns with the key once every pin stack "
            "parts at its edge."
        ),
        DICTIONARY,
        ("shell", "keyway", "shear-line"),
    ),
    Word(
        "shell",
        pgettext_lazy("glossary", "shell"),
        _("The part around the plug. It stands still, and holds the upper halves of the chambers."),
        DICTIONARY,
        ("plug", "chamber"),
    ),
    Word(
        "sleeve",
        pgettext_lazy("glossary", "sleeve"),
        _(
            "In a core that a control key takes out: a thin part between plug and shell. The control "
            "key turns it together with the plug, and its lug lets go of the housing."
        ),
        TRADE,
        ("control-line", "control-key", "plug"),
    ),
    Word(
        "lug",
        pgettext_lazy("glossary", "lug"),
        _(
            "The small projection on the sleeve that holds the core in its housing until the control "
            "key draws it in."
        ),
        TRADE,
        ("sleeve", "housing"),
    ),
    Word(
        "temporary-core",
        pgettext_lazy("glossary", "temporary core"),
        _(
            "A core that stands in a door for a while, mostly during building work, until the core that "
            "is meant for it goes in."
        ),
        DICTIONARY,
        ("core", "rotation"),
    ),
)
