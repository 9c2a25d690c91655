"""Asking for long work on a chart: solving it, and making a key system of it."""

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.charts.access import WORKERS
from keyctl.charts.models import LockChart
from keyctl.charts.services.drawing import kept_of, locked
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.systems.models import KeySystem

SOLVE = "charts.solve"
MAKE = "charts.make"


@transaction.atomic
def start_solving(*, actor: User, chart: LockChart, version: int, minutes: int) -> Job:
    """Search for bittings in the background, for so many minutes at most."""
    chart = locked(actor, chart.pk, version)
    if not chart.keys or not chart.locks:
        raise Refused(_("Draw keys and locks first."))
    engine.read_chart(chart.format_id, chart.mapping(kept_of(chart)))
    return _start(actor, chart, SOLVE, {"version": version, "limit_s": minutes * 60})


@transaction.atomic
def start_making(*, actor: User, chart: LockChart, version: int, code: str, name: str) -> Job:
    """Open a key system with the solved chart's keys, and register a core for each of its locks."""
    chart = locked(actor, chart.pk, version)
    if chart.state != LockChart.State.SOLVED:
        raise Refused(_("The chart is not solved; solve it first."))
    if KeySystem.objects.filter(code=code).exists():
        raise Refused(_("There is a key system {code} already; choose another code.").format(code=code))
    return _start(actor, chart, MAKE, {"version": version, "code": code, "name": name})


def _start(actor: User, chart: LockChart, kind: str, facts: dict[str, object]) -> Job:
    require_role(actor, chart.site, *WORKERS)
    return start_job(
        actor=actor,
        kind=kind,
        site=chart.site,
        parameters={"chart": str(chart.pk), **facts},
        subjects=[chart],
        back_url=reverse("charts:detail", args=[chart.pk]),
        about=chart.name,
    )
