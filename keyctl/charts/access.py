"""Who sees lock charts, and who works on them."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.charts.models import LockChart
from keyctl.places.access import require_role, require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role

WORKERS = (Role.LOCKSMITH,)
READERS = (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)


def workable_sites(actor: User) -> QuerySet[Site]:
    return Site.objects.for_roles(actor, *WORKERS)


def refuse_idle(actor: User) -> None:
    """403 for whoever draws charts nowhere."""
    require_some(workable_sites(actor))


def readable_charts(actor: User) -> QuerySet[LockChart]:
    """The charts of the sites whose charts the actor may see; somebody with none is turned away."""
    sites = require_some(Site.objects.for_roles(actor, *READERS))
    return LockChart.objects.filter(site__in=sites).select_related("site", "created_by", "system")


def readable_chart(actor: User, pk: UUID) -> LockChart:
    chart = get_object_or_404(LockChart.objects.select_related("site", "created_by", "system"), pk=pk)
    require_role(actor, chart.site, *READERS)
    return chart


def workable_chart(actor: User, pk: UUID) -> LockChart:
    chart = readable_chart(actor, pk)
    require_role(actor, chart.site, *WORKERS)
    return chart
