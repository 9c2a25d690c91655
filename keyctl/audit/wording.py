"""What the checks of history find, in every language of the pages: they themselves tell it in English, for
evidence must not depend on who looks, and the file that checks elsewhere knows nothing of the product.
"""

from django.utils.translation import gettext_noop

from keyctl.lib.retold import register_texts

FINDINGS = (
    gettext_noop("checkpoint {size}: its signature is not of this key."),
    gettext_noop(
        "checkpoint {size}: it does not name the checkpoint before it; one was taken away or put in."
    ),
    gettext_noop("checkpoint {size}: its tree does not begin with the tree of the checkpoint before it."),
    gettext_noop("checkpoint {size}: the entries up to here are not those that were signed."),
    gettext_noop("checkpoint {size}: it was signed with as many entries, and there are {entries}."),
    gettext_noop("entry {number}: it is missing; after {before} comes {after}."),
    gettext_noop("entry {number}: it does not follow on the entry before it."),
    gettext_noop("entry {number}: it is not what was recorded."),
    gettext_noop("event {event}: it is in no entry of the history."),
    gettext_noop("event {event}: it is gone, and its subjects are there."),
    gettext_noop("checkpoints: there is none, and there are {entries} entries."),
    gettext_noop("checkpoints: a file in {folder} cannot be read: {error}."),
    gettext_noop("checkpoints: the one that entry {number} tells of is missing."),
    gettext_noop("history: the database cannot read it: {error}."),
    gettext_noop("head: it says {number}, and the last entry is {last}, or their hashes differ."),
    gettext_noop("trigger {name}: it is missing."),
    gettext_noop("trigger {name}: it is not as it was made."),
    gettext_noop("trigger {name}: keyctl did not make it."),
    gettext_noop("function {name}: it is missing or not as it was made."),
)


def register_words() -> None:
    register_texts(*FINDINGS)
