"""Pages of long lists whose rows bring much along."""

from collections.abc import Sequence
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet


class LeanPaginator(Paginator[Any]):
    """Only the rows of the page are read whole: sorted are their keys. A database would else carry along all
    that belongs to each row of the list, to show a few."""

    object_list: QuerySet[Any]

    def _get_page(self, object_list: Any, number: int, paginator: Paginator[Any]) -> Page[Any]:
        rows: Sequence[Any] | QuerySet[Any] = self.object_list.filter(pk__in=object_list.values("pk"))
        return Page(rows, number, paginator)
