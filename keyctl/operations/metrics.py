"""Figures for Prometheus: what this process answered, and what the database says waits.

With PROMETHEUS_MULTIPROC_DIR set, the library adds up the processes of one host.
"""

import os
from collections.abc import Callable, Iterator
from time import perf_counter

from django.db.models import Count, Min
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone
from prometheus_client import REGISTRY, CollectorRegistry, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from keyctl.audit.models import Event
from keyctl.jobs.models import Job
from keyctl.lib.numbering import route_of
from keyctl.notices.models import Notice
from keyctl.operations.backup.drilling import DRILLED
from keyctl.operations.backup.folder import age_of_newest
from keyctl.operations.models import EstateCheck
from keyctl.operations.readiness import probes
from keyctl.orders.models import WorkOrder

ANSWERED = Histogram(
    "keyctl_request_seconds",
    "Time to answer a request",
    ["method", "route", "status"],
    buckets=(0.025, 0.05, 0.1, 0.2, 0.3, 0.5, 1, 2, 5, 10),
)
# A client may invent a method; each would be a series of its own.
METHODS = {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"}

GetResponse = Callable[[HttpRequest], HttpResponseBase]


def measure_requests(get_response: GetResponse) -> GetResponse:
    def middleware(request: HttpRequest) -> HttpResponseBase:
        began = perf_counter()
        response = get_response(request)
        method = request.method if request.method in METHODS else "other"
        labels = (str(method), route_of(request) or "none", f"{response.status_code // 100}xx")
        ANSWERED.labels(*labels).observe(perf_counter() - began)
        return response

    return middleware


class Waiting(Collector):
    """Asked of the database at each look; numbers only, of the whole installation."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        yield _by("keyctl_jobs", "Jobs by state", "state", _states(Job))
        yield _by("keyctl_notices", "Mail by state", "state", _states(Notice))
        yield _by("keyctl_orders", "Work orders by state", "state", _states(WorkOrder))
        yield GaugeMetricFamily(
            "keyctl_job_waits_seconds", "How long the oldest waiting job waits", value=_longest_wait()
        )
        yield from _of_safekeeping()
        yield _by("keyctl_good", "1 where a probe is good", "probe", {p.name: p.is_good for p in probes()})


def _of_safekeeping() -> Iterator[GaugeMetricFamily]:
    """How old the newest backup and the last look at all data are; nothing where there is none to ask."""
    now = timezone.now()
    if (age := age_of_newest(now)) is not None:
        yield GaugeMetricFamily("keyctl_backup_age_seconds", "How old the newest backup is", value=age)
    drilled = Event.objects.filter(verb=DRILLED).order_by("-at").values_list("at", flat=True).first()
    if drilled:
        since = max(0.0, (now - drilled).total_seconds())
        yield GaugeMetricFamily(
            "keyctl_drill_age_seconds", "How long ago a backup was brought back", value=since
        )
    if last := EstateCheck.objects.order_by("-at").first():
        since = max(0.0, (now - last.at).total_seconds())
        yield GaugeMetricFamily(
            "keyctl_estate_age_seconds", "How old the last look at all data is", value=since
        )
        yield GaugeMetricFamily("keyctl_estate_breaches", "How many breaches it found", value=last.number)


def text() -> bytes:
    """Everything, in Prometheus' text form."""
    waiting = CollectorRegistry()
    waiting.register(Waiting())
    return generate_latest(_of_requests()) + generate_latest(waiting)


def _of_requests() -> CollectorRegistry:
    if not os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        return REGISTRY
    together = CollectorRegistry()
    MultiProcessCollector(together)  # type: ignore[no-untyped-call]
    return together


def _states(model: type[Job] | type[Notice] | type[WorkOrder]) -> dict[str, float]:
    counted = model._default_manager.order_by().values_list("state").annotate(number=Count("pk"))
    return dict.fromkeys(model.State.values, 0.0) | {state: float(number) for state, number in counted}


def _longest_wait() -> float:
    since = Job.objects.filter(state=Job.State.WAITING).aggregate(since=Min("asked_at"))["since"]
    return max(0.0, (timezone.now() - since).total_seconds()) if since else 0.0


def _by(name: str, words: str, label: str, values: dict[str, float]) -> GaugeMetricFamily:
    family = GaugeMetricFamily(name, words, labels=[label])
    for each, value in values.items():
        family.add_metric([each], float(value))
    return family
