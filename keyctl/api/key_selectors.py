"""The rows of keys and people: what a token reaches by its sites, narrowed by the filters of the query."""

from typing import Any

from django.db.models import Count, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest, Step
from keyctl.audit.models import EventSubject, Link
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.places.models import Door, Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

Filters = dict[str, Any]

# The name of a filter in a query, and what it asks of a row.
SYSTEM = {"code": "code", "format": "format_id"}
KEY = {"system": "system__code", "kind": "kind", "level": "level", "parent": "parent", "symbol": "symbol"}
CABINET = {"site": "site"}
COPY = {
    "site": "site",
    "key": "symbol",
    "system": "symbol__system__code",
    "state": "state",
    "condition": "condition",
    "cabinet": "cabinet",
    "holder": "holder",
    "serial": "serial",
    "due_before": "custody__due_at__lt",
}
HOLDER = {
    "site": "site",
    "kind": "kind",
    "is_active": "is_active",
    "email": "email__iexact",
    "department": "department",
    "external_id": "person__external_id",
    "q": "name__icontains",
}
REQUEST = {
    "site": "building__site",
    "building": "building",
    "state": "state",
    "holder": "holder",
    "asked_since": "asked_at__gte",
}
EVENT = {
    "site": "event__site_id",
    "kind": "event__verb",
    "since": "event__at__gte",
    "after": "number__gt",
}


def reached(actor: User) -> QuerySet[Site]:
    """The pages of keys are closed to programs; here a token's own sites and scopes say what it reads."""
    return Site.objects.for_roles(actor, Role.INTEGRATION)


def systems(actor: User, filters: Filters) -> QuerySet[KeySystem]:
    shown = Prefetch("sites", reached(actor))
    rows = KeySystem.objects.filter(pk__in=_systems(actor, filters)).filter(**narrowed(SYSTEM, filters))
    return rows.defer("design").prefetch_related(shown)


def keys(actor: User, filters: Filters) -> QuerySet[KeySymbol]:
    """Not even the sealed bitting is read from the database."""
    rows = KeySymbol.objects.filter(system__in=_systems(actor, filters)).filter(**narrowed(KEY, filters))
    if "is_retired" in filters:
        rows = rows.filter(retired_at__isnull=not filters["is_retired"])
    hidden = ("bitting", "fingerprint", "system__design", "parent__bitting", "parent__fingerprint")
    return rows.select_related("system", "parent").defer(*hidden)


def cabinets(actor: User, filters: Filters) -> QuerySet[Cabinet]:
    rows = Cabinet.objects.filter(site__in=reached(actor)).filter(**narrowed(CABINET, filters))
    return rows.select_related("site")


def copies(actor: User, filters: Filters) -> QuerySet[KeyCopy]:
    rows = KeyCopy.objects.at_sites(reached(actor)).filter(**narrowed(COPY, filters))
    rows = rows.with_names().select_related("custody")
    return rows.defer("symbol__bitting", "symbol__fingerprint", "symbol__system__design")


def holders(actor: User, filters: Filters) -> QuerySet[Holder]:
    rows = Holder.objects.filter(site__in=reached(actor)).filter(**narrowed(HOLDER, filters))
    return rows.select_related("site", "person").annotate(copies_out=_copies_out())


def requests(actor: User, filters: Filters) -> QuerySet[KeyRequest]:
    rows = KeyRequest.objects.at_sites(reached(actor)).filter(**narrowed(REQUEST, filters))
    if "door" in filters:
        rows = rows.filter(doors=filters["door"])
    if "key" in filters:
        rows = rows.filter(grants__symbol=filters["key"])
    if "is_own" in filters:
        own = Q(requester=actor)
        rows = rows.filter(own if filters["is_own"] else ~own)
    return rows.select_related("building__site", "holder", "requester").prefetch_related(
        Prefetch("doors", Door.objects.order_by("pk")),
        Prefetch("steps", Step.objects.order_by("ordinal")),
        Prefetch("grants", _grants()),
    )


def events(actor: User, filters: Filters) -> QuerySet[Link]:
    """In the order in which they were committed, which is the order of the chain."""
    rows = Link.objects.filter(event__site_id__in=reached(actor).values("pk"))
    rows = rows.filter(**narrowed(EVENT, filters)).defer("before", "hash")
    if "subject" in filters:
        about = EventSubject.objects.filter(subject_id=filters["subject"])
        rows = rows.filter(event__in=about.values("event"))
    return rows.select_related("event").prefetch_related("event__subjects")


def _systems(actor: User, filters: Filters) -> QuerySet[Any]:
    """Whether a site out of reach uses a system too is told to nobody who asks for that site."""
    used = KeySystem.sites.through.objects.filter(site__in=reached(actor))
    return used.filter(**narrowed({"site": "site"}, filters)).values("keysystem")


def _copies_out() -> Coalesce:
    """Counted for the rows of a page alone: a join would group all holders before the first is told."""
    held = KeyCopy.objects.filter(holder=OuterRef("pk")).order_by().values("holder")
    return Coalesce(Subquery(held.annotate(number=Count("pk")).values("number")), 0)


def _grants() -> QuerySet[Grant]:
    rows = Grant.objects.select_related("symbol__system", "reserved_copy", "copy").order_by("pk")
    return rows.defer("symbol__bitting", "symbol__fingerprint", "symbol__system__design")


def narrowed(names: dict[str, str], filters: Filters) -> dict[str, Any]:
    return {lookup: filters[name] for name, lookup in names.items() if name in filters}
