"""Formats belong to no site: the whole staff reads them, an administrator of any site makes them."""

from dataclasses import dataclass
from uuid import UUID

from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.engine import CoreFormat
from keyctl.formats.models import KeywayFit, ShopFormat
from keyctl.formats.source import built_in_names
from keyctl.formats.wording import short_control
from keyctl.places.access import require_role_somewhere
from keyctl.places.models import Site
from keyctl.places.roles import STAFF, Role

FITTERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)


@dataclass(frozen=True)
class KnownFormat:
    """A core format, and its record where the shop made it."""

    format: CoreFormat
    shop: ShopFormat | None = None

    @property
    def control(self) -> str:
        return short_control(self.format)

    @property
    def is_retired(self) -> bool:
        return self.shop is not None and self.shop.retired_at is not None


def require_reader(actor: User) -> None:
    require_role_somewhere(actor, Site.objects.all(), *STAFF)


def require_maker(actor: User) -> None:
    require_role_somewhere(actor, Site.objects.all(), Role.ADMINISTRATOR)


def require_fitter(actor: User) -> None:
    """Whoever works with keys anywhere writes the blank table: it holds at every site."""
    require_role_somewhere(actor, Site.objects.all(), *FITTERS)


def removable_fit(actor: User, pk: UUID) -> KeywayFit:
    require_fitter(actor)
    return get_object_or_404(KeywayFit, pk=pk)


def may_fit(actor: User) -> bool:
    return Site.objects.for_roles(actor, *FITTERS).exists()


def may_make(actor: User) -> bool:
    return Site.objects.for_roles(actor, Role.ADMINISTRATOR).exists()


def readable_format(actor: User, format_id: str) -> KnownFormat:
    require_reader(actor)
    if shop := _own(format_id):
        return KnownFormat(engine.parse_format(shop.mapping), shop)
    if format_id not in built_in_names():
        raise Http404
    return KnownFormat(engine.load_format(format_id))


def retirable_format(actor: User, format_id: str) -> ShopFormat:
    """A format of the package is not the shop's to retire: it is not found."""
    require_maker(actor)
    if shop := _own(format_id):
        return shop
    raise Http404


def _own(format_id: str) -> ShopFormat | None:
    return ShopFormat.objects.select_related("made_by").filter(format_id=format_id).first()
