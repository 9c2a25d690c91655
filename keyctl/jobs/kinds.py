"""The kinds of long work. An app tells its own in ``AppConfig.ready()``; jobs lie below all of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from keyctl.lib.language import Text, in_english
from keyctl.places.roles import Role

if TYPE_CHECKING:
    from keyctl.jobs.running import Running

Work = Callable[["Running"], dict[str, Any]]

# Files may hold bittings unless their kind says otherwise. Not auditors: they read everything but bittings.
MAY_OPEN_FILES = (Role.LOCKSMITH, Role.OFFICER)


@dataclass(frozen=True)
class Kind:
    name: str
    label: Text
    work: Work
    file_roles: tuple[Role, ...]
    # Its files are for who started it, and nobody else.
    for_starter: bool = False
    # Its steps are seconds of a limit, so what is left of them is the most it may take.
    by_limit: bool = False

    @property
    def english(self) -> str:
        """As it is kept with a job, and told to history."""
        return in_english(self.label)

    @property
    def holds_secrets(self) -> bool:
        """Its files may hold bittings; whoever opens one proves anew who they are."""
        return set(self.file_roles) <= set(MAY_OPEN_FILES)


_kinds: dict[str, Kind] = {}


def register_kind(
    name: str,
    label: Text,
    work: Work,
    *,
    file_roles: Sequence[Role] = MAY_OPEN_FILES,
    for_starter: bool = False,
    by_limit: bool = False,
) -> None:
    """``work`` does the job and returns its outcome; ``file_roles`` may open the files it attaches."""
    _kinds[name] = Kind(name, label, work, tuple(file_roles), for_starter, by_limit)


def find_kind(name: str) -> Kind | None:
    return _kinds.get(name)


def kind_of(name: str) -> Kind:
    """The kind of a new job; a name that nobody registered is a slip in the program."""
    return _kinds[name]
