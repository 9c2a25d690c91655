"""Key systems"""

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from keyctl.words.parts import Word
from keyctl.words.sources import CODING, DICTIONARY, OWN, PAGES, TRADE

WORDS = (
    Word(
        "key-system",
        pgettext_lazy("glossary", "key system"),
        _("Keys and cores that were planned together: which key works which cores, and with which bittings."),
        DICTIONARY,
        ("levels", "master-key", "key-symbol"),
    ),
    Word(
        "change-key",
        pgettext_lazy("glossary", "change key"),
        _("A key at the lowest level of a system. It works the cores of its own symbol and no others."),
        DICTIONARY,
        ("master-key", "key-symbol"),
    ),
    Word(
        "master-key",
        pgettext_lazy("glossary", "master key"),
        _("A key above others: it works every core of all keys below it."),
        DICTIONARY,
        ("levels", "change-key", "top-master-key"),
    ),
    Word(
        "top-master-key",
        pgettext_lazy("glossary", "top master key"),
        _("The highest key of a system. It works every core in it, unless a core was left out on purpose."),
        DICTIONARY,
        ("master-key", "levels"),
    ),
    Word(
        "control-key",
        pgettext_lazy("glossary", "control key"),
        _(
            "The key that takes cores out and puts them in. Whoever has it can open any door by taking "
            "its core, so it is never handed out like other keys."
        ),
        DICTIONARY,
        ("core", "sleeve", "control-line"),
    ),
    Word(
        "levels",
        pgettext_lazy("glossary", "levels"),
        _(
            "How many ranks of keys a system has: one where all keys are change keys, two with a master "
            "above them, and so on."
        ),
        DICTIONARY,
        ("master-key", "change-key"),
    ),
    Word(
        "key-symbol",
        pgettext_lazy("glossary", "key symbol"),
        _(
            "The name of a key in a system, such as A, AA or AA1. By its letters and figures it tells "
            "the rank of the key and who stands above it."
        ),
        CODING,
        ("levels", "cross-keying"),
    ),
    Word(
        "skd",
        pgettext_lazy("glossary", "SKD"),
        _("Single keyed: a key that stands under no master of its system. Written SKD1, SKD2 and so on."),
        CODING,
        ("key-symbol", "master-key"),
    ),
    Word(
        "cross-keying",
        pgettext_lazy("glossary", "cross-keying"),
        _(
            "To let a core be worked by keys that are not of its own line of masters. Each such core is "
            "weaker, since more breaks stand in it."
        ),
        CODING,
        ("key-symbol", "incidental-key"),
    ),
    Word(
        "keyed-alike",
        pgettext_lazy("glossary", "keyed alike"),
        _("Said of cores that one and the same key works."),
        DICTIONARY,
        ("change-key",),
    ),
    Word(
        "selective-key",
        pgettext_lazy("glossary", "selective key"),
        _("A key that works several chosen cores which stand under no common master of their own."),
        DICTIONARY,
        ("cross-keying", "lock-chart"),
    ),
    Word(
        "lock-chart",
        pgettext_lazy("glossary", "lock chart"),
        _(
            "A table with cores down, keys across and a mark wherever a key shall work a core. It "
            "states what is wanted; bittings are sought for it afterwards."
        ),
        TRADE,
        ("key-system", "cross-keying"),
    ),
    Word(
        "bitting-list",
        pgettext_lazy("glossary", "bitting list"),
        _(
            "The list of all keys of a system with their cuts. keyctl keeps it sealed, and prints it "
            "only for a stated reason."
        ),
        DICTIONARY,
        ("bitting", "key-system"),
    ),
    Word(
        "tpp",
        pgettext_lazy("glossary", "total position progression"),
        _(
            "A method in which the change keys have another cut than the top master in every position. "
            "Short: TPP."
        ),
        DICTIONARY,
        ("rotating-constant", "progression-step", "progression"),
    ),
    Word(
        "rotating-constant",
        pgettext_lazy("glossary", "rotating constant"),
        _(
            "A method in which each change key shares a set number of cuts with the top master, and the "
            "shared positions move from group to group."
        ),
        DICTIONARY,
        ("tpp", "constant-cut"),
    ),
    Word(
        "constant-cut",
        pgettext_lazy("glossary", "constant cut"),
        _("A cut that is the same in a master and in all keys below it. It ties them together."),
        DICTIONARY,
        ("rotating-constant", "partial-progression"),
    ),
    Word(
        "partial-progression",
        pgettext_lazy("glossary", "partial position progression"),
        _("A method in which some positions keep the master’s cut in all keys and only the others change."),
        DICTIONARY,
        ("tpp", "constant-cut"),
    ),
    Word(
        "progression",
        pgettext_lazy("glossary", "progression"),
        _(
            "Going through the cuts position by position, in a fixed order, so as to list all bittings "
            "of a system."
        ),
        DICTIONARY,
        ("tpp", "rotating-constant"),
    ),
    Word(
        "progression-step",
        pgettext_lazy("glossary", "progression step"),
        _(
            "How far cuts of one position lie apart, in depths. In a two-step system all are even "
            "there, or all odd."
        ),
        DICTIONARY,
        ("progression", "depth"),
    ),
    Word(
        "parity",
        pgettext_lazy("glossary", "parity"),
        _(
            "Whether a depth is even or odd. A two-step system keeps one parity in a position, since a "
            "master pin of one increment would be too thin."
        ),
        DICTIONARY,
        ("progression-step",),
    ),
    Word(
        "page-master",
        pgettext_lazy("glossary", "page master"),
        _(
            "A key that shares cuts with all change keys of one page of the bitting list; block, row "
            "and column masters do the same for parts of it."
        ),
        PAGES,
        ("progression", "levels"),
    ),
    Word(
        "page",
        pgettext_lazy("glossary", "page"),
        _(
            "A part of a bitting list in which all change keys share some cuts with each other. A "
            "master over a page is given those cuts."
        ),
        PAGES,
        ("page-master", "block"),
    ),
    Word(
        "block",
        pgettext_lazy("glossary", "block"),
        _("A smaller part of a page, mostly as many keys as one position has cuts to offer."),
        PAGES,
        ("page", "page-master"),
    ),
    Word(
        "capacity",
        pgettext_lazy("glossary", "capacity"),
        _("How many keys a system can still be given before its bittings run out."),
        TRADE,
        ("progression", "expansion"),
    ),
    Word(
        "expansion",
        pgettext_lazy("glossary", "expansion"),
        _("Bittings that are left free on purpose for doors, buildings or masters to come."),
        DICTIONARY,
        ("capacity",),
    ),
    Word(
        "incidental-key",
        pgettext_lazy("glossary", "incidental key"),
        _(
            "A key nobody meant to make whose cuts happen to clear every chamber of a core. The more "
            "breaks a core has, the more of them there are."
        ),
        TRADE,
        ("exposure", "master-pin", "cross-keying"),
    ),
    Word(
        "key-interchange",
        pgettext_lazy("glossary", "key interchange"),
        _("When a key of the system works a core it was not meant for."),
        DICTIONARY,
        ("incidental-key", "proof"),
    ),
    Word(
        "exposure",
        pgettext_lazy("glossary", "exposure"),
        _("How much a core or an area lets in beyond the keys that were planned for it."),
        OWN,
        ("incidental-key", "near-miss"),
    ),
    Word(
        "near-miss",
        pgettext_lazy("glossary", "near miss"),
        _(
            "A key of the estate that misses turning a core by one cut only. Wear, or a coarse copy, "
            "may close the gap."
        ),
        OWN,
        ("exposure", "tolerance"),
    ),
    Word(
        "turn",
        pgettext_lazy("glossary", "turn"),
        _(
            "That a key turns a core, worked out from the pins that stand in it, not from what its "
            "symbol promises."
        ),
        OWN,
        ("plan", "proof"),
    ),
    Word(
        "plan",
        pgettext_lazy("glossary", "plan"),
        _("Which keys shall work a core, as their symbols say. It is held against what the pins do."),
        OWN,
        ("turn", "key-symbol"),
    ),
    Word(
        "proof",
        pgettext_lazy("glossary", "proof"),
        _(
            "Every key tried on every core, by calculation. It lists each pair that differs from the "
            "plan, or states that there is none."
        ),
        OWN,
        ("turn", "key-interchange"),
    ),
    Word(
        "inherited-system",
        pgettext_lazy("glossary", "inherited system"),
        _(
            "A system that somebody else planned. keyctl works out its levels from a bitting list, or "
            "from keys and cores that were decoded."
        ),
        OWN,
        ("decode", "bitting-list"),
    ),
)
