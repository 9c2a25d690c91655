"""Choosing keys for doors: few keys against few doors beyond the needed ones."""

from collections.abc import Collection, Hashable, Mapping
from typing import TypeVar

from django.utils.translation import gettext_lazy

from keyctl.engine.refusals import refusing
from pinning import choosing
from pinning.choosing import KeySet

Key = TypeVar("Key", bound=Hashable)
Door = TypeVar("Door", bound=Hashable)


@refusing(gettext_lazy("No keys can be chosen for these doors."))
def choose_keys(
    opens: Mapping[Key, Collection[Door]],
    needed: Collection[Door],
    *,
    limit_s: float,
    effort: float | None = None,
    search_steps: int = choosing.SEARCH_STEPS,
) -> list[KeySet[Key]]:
    """Fewest keys first; each further set of keys opens fewer extra doors. See ``pinning.choosing``."""
    return choosing.choose_keys(opens, needed, limit_s=limit_s, effort=effort, search_steps=search_steps)


@refusing(gettext_lazy("No keys can be chosen for these doors."))
def preview_keys(
    opens: Mapping[Key, Collection[Door]], needed: Collection[Door], *, more: Mapping[Key, int]
) -> list[KeySet[Key]]:
    """The same at once, by picking key after key; nothing is proven. ``more``: doors that are not listed."""
    return choosing.preview_keys(opens, needed, more=more)
