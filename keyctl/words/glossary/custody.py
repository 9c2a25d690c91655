"""Keys in people’s hands"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import OWN, PE3, TRADE, TWO_PERSON

WORDS = (
    Word(
        "custody",
        pgettext_lazy("glossary", "custody"),
        _(
            "Who has a key, since when and on whose word. Every change of hands is one entry that is "
            "never altered."
        ),
        PE3,
        ("key-copy", "holder", "count"),
    ),
    Word(
        "holder",
        pgettext_lazy("glossary", "holder"),
        _("The person, or firm, that a copy was handed to and who answers for it."),
        TRADE,
        ("custody", "deposit"),
    ),
    Word(
        "custodian",
        pgettext_lazy("glossary", "custodian"),
        _("The person who answers for a key cabinet and what hangs in it."),
        TRADE,
        ("cabinet", "handover"),
    ),
    Word(
        "cabinet",
        pgettext_lazy("glossary", "cabinet"),
        _("The locked cupboard or safe in which copies hang that nobody carries."),
        TRADE,
        ("custodian", "count"),
    ),
    Word(
        "count",
        pgettext_lazy("glossary", "count"),
        _(
            "Holding the keys that are there against the keys that should be. Copies cut must equal "
            "those with holders, in cabinets, lost and destroyed."
        ),
        PE3,
        ("custody", "blind-count", "serial"),
    ),
    Word(
        "blind-count",
        pgettext_lazy("glossary", "blind count"),
        _(
            "A count in which whoever counts is not told what should be there, so that nothing is "
            "ticked off unseen."
        ),
        TRADE,
        ("count",),
    ),
    Word(
        "witness",
        pgettext_lazy("glossary", "witness"),
        _("A second person, signed in as themselves, who confirms what the first one counted or did."),
        OWN,
        ("count", "two-person"),
    ),
    Word(
        "handover",
        pgettext_lazy("glossary", "handover"),
        _("A cabinet going from one custodian to the next, with a count that both sign."),
        TRADE,
        ("custodian", "count"),
    ),
    Word(
        "deposit",
        pgettext_lazy("glossary", "deposit"),
        _("Money or another pledge left for a key until it comes back."),
        TRADE,
        ("holder", "receipt"),
    ),
    Word(
        "receipt",
        pgettext_lazy("glossary", "receipt"),
        _("The paper that a holder gets: which copies, from whom, when, under which terms."),
        TRADE,
        ("custody", "signature"),
    ),
    Word(
        "signature",
        pgettext_lazy("glossary", "signature"),
        _(
            "What a person draws or types when a key changes hands. It is kept with the very words they "
            "agreed to."
        ),
        OWN,
        ("receipt",),
    ),
    Word(
        "tray",
        pgettext_lazy("glossary", "tray"),
        _(
            "The copies that were scanned at the key desk and not handed over yet. One signature covers "
            "all of them."
        ),
        OWN,
        ("scan", "key-copy"),
    ),
    Word(
        "request",
        pgettext_lazy("glossary", "request"),
        _(
            "Somebody asks for a key by naming the doors they need. keyctl proposes the key that opens "
            "them and least besides."
        ),
        OWN,
        ("approval", "substitute"),
    ),
    Word(
        "approval",
        pgettext_lazy("glossary", "approval"),
        _("The yes of whoever decides about an area. Nobody says it to their own request."),
        OWN,
        ("request", "two-person", "substitute"),
    ),
    Word(
        "substitute",
        pgettext_lazy("glossary", "substitute"),
        _("Who decides in another person’s place for some days, written down beforehand."),
        OWN,
        ("approval",),
    ),
    Word(
        "leaver",
        pgettext_lazy("glossary", "leaver"),
        _("A person who goes, and whose keys must come back before they are gone."),
        TRADE,
        ("holder", "custody"),
    ),
    Word(
        "term",
        pgettext_lazy("glossary", "term"),
        _("Until when a copy is lent, and under which rules."),
        OWN,
        ("holder", "receipt"),
    ),
    Word(
        "two-person",
        pgettext_lazy("glossary", "two-person rule"),
        _(
            "An act that takes two people who are both signed in, such as opening the bitting of a "
            "master key."
        ),
        TWO_PERSON,
        ("approval", "witness", "reveal"),
    ),
)
