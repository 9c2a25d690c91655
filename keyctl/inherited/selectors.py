"""Reading lists and the cores that a reconstruction can be made of."""

import json
from typing import Any

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.inherited.access import readable_sites
from keyctl.inherited.models import BittingList
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem
from keyctl.vault import services as vault

MOST_OFFERED = 120


def lists_of(actor: User) -> QuerySet[BittingList]:
    """The lists at the actor's sites, those still open first."""
    rows = BittingList.objects.filter(site__in=readable_sites(actor)).defer("content", "findings")
    return rows.select_related("site", "system", "uploaded_by").order_by("ended_at", "-uploaded_at")


def systems_at(sites: QuerySet[Site]) -> QuerySet[KeySystem]:
    return KeySystem.objects.at_sites(sites).order_by("code")


def decoded_cores(site: Site, format_id: str) -> QuerySet[Core]:
    """Cores whose pins are on record, those of no system first: they are what an inherited system leaves."""
    rows = Core.objects.filter(site=site, format_id=format_id, pinning__isnull=False).with_places()
    return rows.order_by("system__code", "tag")


def offered_cores(site: Site, format_id: str) -> QuerySet[Core]:
    """What the page lists to tick; others are named by their tags."""
    return decoded_cores(site, format_id).filter(system__isnull=True)[:MOST_OFFERED]


def findings_shown(listed: BittingList, show: str) -> list[dict[str, Any]]:
    """The findings of the dry run: all, or only errors or warnings. They name cells and symbols, no cut."""
    if listed.findings is None:
        return []
    found: list[dict[str, Any]] = json.loads(vault.unseal(listed, "findings"))
    wanted = {"errors": True, "warnings": False}.get(show)
    return [finding for finding in found if wanted is None or finding["error"] is wanted]
