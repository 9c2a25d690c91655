from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRefresh

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request, partial
from keyctl.jobs import access, selectors, services
from keyctl.jobs.models import Job
from keyctl.places.access import administered_sites, require_administrator
from keyctl.places.selectors import estate_sites, visible_history

JOBS_ON_A_PAGE = 50
EVENTS_SHOWN = 20


@require_GET
def job_list(request: Request) -> HttpResponse:
    estate_sites(request.user)
    only_mine = request.GET.get("whose") == "mine"
    jobs = selectors.jobs_of(request.user, only_mine=only_mine)
    context = {
        "page": Paginator(jobs, JOBS_ON_A_PAGE).get_page(request.GET.get("page")),
        "only_mine": only_mine,
        "is_administrator": administered_sites(request.user).exists(),
        "query": "whose=mine" if only_mine else "",
    }
    return render(request, "jobs/list.html", context)


@require_GET
def routines(request: Request) -> HttpResponse:
    require_administrator(request.user)
    rows = selectors.routine_rows()
    return render(
        request, "jobs/routines.html", {"rows": rows, "nobody_works": any(row.is_late for row in rows)}
    )


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    """How far a job is. While it is unfinished a piece asks for itself anew; at the end the page does."""
    job = access.readable_job(request.user, pk)
    if request.htmx and job.has_ended:
        return HttpResponseClientRefresh()
    may_stop = access.may_stop(request.user, job)
    context = {
        "job": job,
        "milestone": selectors.milestone(job),
        "is_news": request.htmx and request.GET.get("said") != selectors.milestone(job),
        "worker_is_missing": selectors.worker_is_missing(job),
        "failure": selectors.failure_shown_to(request.user, job),
        "files": job.files.defer("content"),
        "may_open_files": access.may_open_files(request.user, job),
        "may_stop": may_stop and job.state in {Job.State.WAITING, Job.State.RUNNING},
        "may_resume": may_stop
        and job.actor == request.user
        and job.state in {Job.State.STOPPED, Job.State.FAILED},
        "events": visible_history(request.user, job)[:EVENTS_SHOWN],
    }
    return render(request, partial(request, "jobs/detail.html", "progress"), context)


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    services.cancel_job(actor=request.user, job=access.readable_job(request.user, pk))
    return redirect("jobs:detail", pk)


@require_POST
def resume(request: Request, pk: UUID) -> HttpResponse:
    services.resume_job(actor=request.user, job=access.readable_job(request.user, pk))
    return redirect("jobs:detail", pk)


@require_POST
def file(request: Request, pk: UUID) -> HttpResponse:
    """By form only: no address that opens a secret lies in a history or a log."""
    found = access.readable_file(request.user, pk)
    sign_in = fresh_sign_in(request) if found.job.files_hold_secrets else None
    content = services.open_file(actor=request.user, file=found, sign_in=sign_in)
    return HttpResponse(
        content,
        content_type=found.content_type,
        headers={
            "Content-Disposition": content_disposition_header(True, found.name) or "attachment",
            "Cache-Control": "no-store",
            "X-Content-Type-Options": "nosniff",
        },
    )
