"""Views that people keep, and share with the staff of a site."""

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.listing.access import sharing_sites
from keyctl.listing.declaring import List, Said
from keyctl.listing.models import SavedView
from keyctl.places.models import Site

MOST_VIEWS = 50


@transaction.atomic
def keep_view(
    *,
    actor: User,
    found: List,
    name: str,
    said: Said,
    columns: Sequence[str],
    sort: str = "",
    shared_with: Site | None = None,
) -> SavedView:
    """A view of one's own by that name is replaced."""
    name = _name(name)
    _refuse_sharing(actor, found, shared_with)
    mine = SavedView.objects.filter(owner=actor, list_name=found.name)
    view = mine.select_for_update().filter(name=name).first()
    if view is None and mine.count() >= MOST_VIEWS:
        raise Refused(_("You keep {most} views of this list. Remove one first.").format(most=MOST_VIEWS))
    view = view or SavedView(owner=actor, list_name=found.name, name=name)
    view.words, view.columns, view.sort = found.narrowed(said), list(columns), sort
    view.shared_with = shared_with
    view.save()
    _record(actor, view, "kept", "kept")
    return view


@transaction.atomic
def change_view(
    *, actor: User, view: SavedView, found: List, name: str, shared_with: Site | None
) -> SavedView:
    view = _held(actor, view)
    name = _name(name)
    _refuse_sharing(actor, found, shared_with)
    others = SavedView.objects.filter(owner=actor, list_name=view.list_name, name=name).exclude(pk=view.pk)
    if others.exists():
        raise Refused(_("You keep a view called {name} already. Choose another name.").format(name=name))
    before, view.name, view.shared_with = view.name, name, shared_with
    view.save(update_fields=["name", "shared_with"])
    _record(actor, view, "changed", "changed", detail={"before": before})
    return view


@transaction.atomic
def remove_view(*, actor: User, view: SavedView) -> None:
    view = _held(actor, view)
    _record(actor, view, "removed", "removed")
    view.delete()


def _held(actor: User, view: SavedView) -> SavedView:
    held = SavedView.objects.select_for_update().get(pk=view.pk)
    if held.owner_id != actor.pk:
        raise PermissionDenied
    return held


def _name(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused(_("Give the view a name."))
    return name


def _refuse_sharing(actor: User, found: List, site: Site | None) -> None:
    if site and not sharing_sites(actor, found).filter(pk=site.pk).exists():
        raise PermissionDenied


def _record(
    actor: User, view: SavedView, verb: str, words: str, detail: dict[str, Any] | None = None
) -> None:
    site = view.shared_with
    shared = f", shared with the staff of {site}" if site else ""
    record(
        actor=actor,
        verb=f"view.{verb}",
        sentence=f"{words} the view “{view}” of the list {view.list_name}{shared}",
        site_id=site.pk if site else None,
        subjects=[view],
        detail=detail,
    )
