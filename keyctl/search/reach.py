"""What somebody may find: kinds at sites, and single things that are theirs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from uuid import UUID


@dataclass(frozen=True)
class Reach:
    sites: Mapping[str, frozenset[UUID]]
    own: Mapping[str, frozenset[UUID]] = field(default_factory=dict)
    # Where words count that only who works with the estate may read (``sources.INNER``); None for everywhere.
    inner: frozenset[UUID] | None = None

    @property
    def kinds(self) -> list[str]:
        return [kind for kind, sites in self.sites.items() if sites]

    @property
    def all_sites(self) -> frozenset[UUID]:
        return frozenset().union(*self.sites.values())

    def reads_inner(self, site: UUID) -> bool:
        return self.inner is None or site in self.inner

    def allows(self, kind: str, site: UUID, thing: UUID) -> bool:
        return site in self.sites.get(kind, ()) or thing in self.own.get(kind, ())
