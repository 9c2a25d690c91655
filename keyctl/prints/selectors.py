"""The register of exports with how often each was downloaded."""

from dataclasses import dataclass
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.db.models import Count

from keyctl.accounts.models import User
from keyctl.audit.models import EventSubject
from keyctl.places.access import has_role, require_some
from keyctl.places.models import Site
from keyctl.prints.access import BITTING_TAKERS, REGISTER_READERS, readable_exports, waiting_exports
from keyctl.prints.models import Export
from keyctl.reveals.models import Permission
from keyctl.systems.models import KeySystem

EXPORTS_ON_A_PAGE = 50
DOWNLOADED = "job.file_downloaded"


@dataclass(frozen=True)
class RegisterRow:
    export: Export
    downloads: int


def register_page(actor: User, number: str | None) -> "tuple[Page[Export], list[RegisterRow]]":
    """A page of the register, newest first; 403 for whoever reads it at no site."""
    require_some(Site.objects.for_roles(actor, *REGISTER_READERS))
    page = Paginator(readable_exports(actor), EXPORTS_ON_A_PAGE).get_page(number)
    exports = list(page.object_list)
    downloads = _downloads(exports)
    return page, [RegisterRow(export, downloads.get(export.pk, 0)) for export in exports]


@dataclass(frozen=True)
class WaitingList:
    """A list with bittings that somebody asked for, and what a second person said of it."""

    export: Export
    permission: Permission


def takes_bittings(actor: User, site: Site) -> bool:
    return has_role(actor, site, *BITTING_TAKERS)


def waiting_lists(actor: User, thing: KeySystem | Site) -> list[WaitingList]:
    exports = {each.pk: each for each in waiting_exports(actor, thing)}
    rows = Permission.objects.filter(asked_by=actor, subject_id__in=exports).order_by("-asked_at")
    newest: dict[UUID, WaitingList] = {}
    for row in rows.with_names():
        newest.setdefault(row.subject_id, WaitingList(exports[row.subject_id], row))
    return list(newest.values())


def _downloads(exports: list[Export]) -> dict[UUID, int]:
    subjects = EventSubject.objects.filter(
        kind=Export._meta.label_lower,
        subject_id__in=[export.pk for export in exports],
        event__verb=DOWNLOADED,
    )
    counted = subjects.values("subject_id").annotate(count=Count("pk"))
    return dict(counted.values_list("subject_id", "count"))
