"""Records and secrets"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import COBIE, FACTORS, IFC, LOG, OWN, TRADE, WEBAUTHN, WEBHOOKS

WORDS = (
    Word(
        "estate",
        pgettext_lazy("glossary", "estate"),
        _("All sites, doors, cores and keys that are kept here."),
        OWN,
        ("site", "opening"),
    ),
    Word(
        "site",
        pgettext_lazy("glossary", "site"),
        _(
            "The largest place: a campus, a hospital, a plant. Roles are given for each site, and what "
            "is known of one is not shown at another."
        ),
        OWN,
        ("estate",),
    ),
    Word(
        "opening",
        pgettext_lazy("glossary", "opening"),
        _("A door with its frame, seen as one thing. One opening may have several locks."),
        TRADE,
        ("housing", "egress"),
    ),
    Word(
        "reveal",
        pgettext_lazy("glossary", "reveal"),
        _(
            "To open a bitting and look at it. It wants a reason or an order, and is written into "
            "history before anything is shown."
        ),
        OWN,
        ("bitting", "sealed", "two-person"),
    ),
    Word(
        "sealed",
        pgettext_lazy("glossary", "sealed"),
        _("Kept encrypted, so that neither a copy of the database nor a backup tells it."),
        OWN,
        ("bitting", "reveal"),
    ),
    Word(
        "history",
        pgettext_lazy("glossary", "history"),
        _(
            "Everything that was done, in order. Each entry carries a digest of the one before, so that "
            "a changed or missing one shows."
        ),
        LOG,
        ("checkpoint", "event"),
    ),
    Word(
        "event",
        pgettext_lazy("glossary", "event"),
        _("One entry of the history: who did what, when, and to what."),
        OWN,
        ("history",),
    ),
    Word(
        "checkpoint",
        pgettext_lazy("glossary", "checkpoint"),
        _(
            "A signed statement of how long the history is and what its digest is at that moment. Kept "
            "elsewhere, it shows whether anything was altered later."
        ),
        LOG,
        ("history", "inclusion-proof"),
    ),
    Word(
        "inclusion-proof",
        pgettext_lazy("glossary", "inclusion proof"),
        _(
            "A few digests by which anybody can work out that one event stands under a checkpoint, "
            "without seeing the rest."
        ),
        LOG,
        ("checkpoint", "event"),
    ),
    Word(
        "passkey",
        pgettext_lazy("glossary", "passkey"),
        _(
            "A sign-in kept by a device or a hardware key. Nothing that can be told to somebody else is "
            "typed."
        ),
        WEBAUTHN,
        ("second-factor",),
    ),
    Word(
        "second-factor",
        pgettext_lazy("glossary", "second factor"),
        _(
            "Something besides a password that proves who signs in: a passkey, or a code that an app "
            "shows for half a minute."
        ),
        FACTORS,
        ("passkey",),
    ),
    Word(
        "cobie",
        pgettext_lazy("glossary", "COBie"),
        _(
            "A set of tables in which designers and builders hand rooms, doors and hardware over to "
            "whoever runs the building."
        ),
        COBIE,
        ("ifc", "opening"),
    ),
    Word(
        "ifc",
        pgettext_lazy("glossary", "IFC"),
        _("An open file form for models of buildings, with their floors, rooms and doors."),
        IFC,
        ("cobie",),
    ),
    Word(
        "webhook",
        pgettext_lazy("glossary", "webhook"),
        _("A signed message that keyctl sends to another program as soon as something has happened."),
        WEBHOOKS,
        ("event",),
    ),
)
