"""Who brings files in: of each kind whoever may write its things on their pages, too."""

from uuid import UUID

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.imports.kinds import Kind, find_kind, known_kinds
from keyctl.imports.models import Import
from keyctl.inherited.access import workable_sites
from keyctl.places.access import has_role, require_role, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role

TAKERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)


def taking_sites(actor: User, kind: Kind | None = None) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *(kind.takers if kind else TAKERS))


def refuse_idle(actor: User) -> None:
    """403 for whoever brings nothing in anywhere."""
    require_some(taking_sites(actor))


def brings_bittings(actor: User) -> bool:
    return workable_sites(actor).exists()


def offered_kinds(actor: User) -> list[Kind]:
    """What the actor may bring in at some site."""
    return [kind for kind in known_kinds() if kind.is_brought_here and taking_sites(actor, kind).exists()]


def offered_kind(actor: User, name: str) -> Kind:
    kind = find_kind(name)
    if kind is None or not kind.is_brought_here:
        raise Http404
    require_some(taking_sites(actor, kind))
    return kind


def visible_imports(actor: User) -> QuerySet[Import]:
    allowed = Q(pk__in=[])
    for kind in known_kinds():
        allowed |= Q(kind=kind.name, site__in=taking_sites(actor, kind))
    return Import.objects.filter(allowed).defer("content").select_related("site", "uploaded_by")


def workable_import(actor: User, pk: UUID) -> Import:
    """Its content is not read unless somebody asks for it."""
    imports = Import.objects.defer("content").select_related("site", "uploaded_by")
    imported = get_object_or_404(imports, pk=pk)
    require_taker(actor, imported)
    return imported


def require_taker(actor: User, imported: Import) -> None:
    kind = find_kind(imported.kind)
    require_role(actor, imported.site, *(kind.takers if kind else TAKERS))


def may_build(actor: User, site: Site) -> bool:
    """Buildings and floors are an administrator's."""
    return has_role(actor, site, Role.ADMINISTRATOR)
