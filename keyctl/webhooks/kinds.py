"""Which events an endpoint may be told of. What is not here, such as who signed in, goes nowhere."""

from typing import Final

from django.utils.translation import gettext_lazy

from keyctl.lib.language import Text

# A family by its name: what pages call it, and the first words of its events.
FAMILIES: Final[dict[str, tuple[Text, frozenset[str]]]] = {
    "places": (
        gettext_lazy("Places and doors"),
        frozenset({"site", "building", "floor", "space", "door", "housing"}),
    ),
    "cores": (gettext_lazy("Cores"), frozenset({"core", "interim"})),
    "systems": (gettext_lazy("Key systems"), frozenset({"system"})),
    "keys": (
        gettext_lazy("Keys: cut, handed out, returned, lost"),
        frozenset({"key", "handover", "deposit", "cabinet"}),
    ),
    "holders": (gettext_lazy("Holders and leavers"), frozenset({"holder", "leaver"})),
    "requests": (gettext_lazy("Requests for keys"), frozenset({"request"})),
    "orders": (gettext_lazy("Work orders and rotations"), frozenset({"order", "rotation", "field"})),
    "losses": (gettext_lazy("Losses"), frozenset({"loss"})),
    "counts": (gettext_lazy("Counts"), frozenset({"count"})),
}
CHOICES: Final = [(name, label) for name, (label, _) in FAMILIES.items()]
TEST: Final = "webhook.test"


def family_of(verb: str) -> str:
    """Empty where nobody is told.

    >>> family_of("core.swapped"), family_of("account.signed_in")
    ('cores', '')
    """
    first = verb.partition(".")[0]
    return next((name for name, (_, words) in FAMILIES.items() if first in words), "")


def type_of(verb: str) -> str:
    """In the signs that the specification wants of a type.

    >>> type_of("system.version-taken")
    'system.version_taken'
    """
    return verb.replace("-", "_")
