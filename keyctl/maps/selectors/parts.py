"""What is looked at: a site, or a building or a floor of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db.models import Model, QuerySet
from django.db.models.functions import Coalesce

from keyctl.cores.models import Core, Turn
from keyctl.places.models import Site

M = TypeVar("M", bound=Model)
# Filters of doors, by which sets of them are kept to the place that is looked at.
Near = Mapping[str, Any]


@dataclass(frozen=True)
class Part:
    """A site, or what ``near`` keeps to of it."""

    site: Site
    near: Near

    @property
    def cores(self) -> QuerySet[Core]:
        """In its housings."""
        return self._of_site(Core.objects.filter(place=Core.Place.HOUSING), "site_id")

    @property
    def turns(self) -> QuerySet[Turn]:
        """Of keys that operate these cores."""
        rows = Turn.objects.filter(core__place=Core.Place.HOUSING, operates=True)
        return self._of_site(rows, "core__site_id")

    def _of_site(self, rows: QuerySet[M], site: str) -> QuerySet[M]:
        """From a building or a floor the way leads down to its own: there the site is hidden from the index
        by which SQLite, which knows roughly how many rows there are, would read all of the site's."""
        if not self.near:
            return rows.filter(**{site: self.site.pk}).order_by()
        return past_the_index(rows, site, self.site).order_by()


def past_the_index(rows: QuerySet[Any], column: str, site: Site) -> QuerySet[Any]:
    """Rows of the site, whose column no index finds."""
    found: QuerySet[Any] = rows.alias(register=Coalesce(column, column)).filter(register=site.pk)
    return found
