"""Keys for approved requests at the desk: what to cut, what lies ready, what nobody came for."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.approvals import access, counter, services
from keyctl.approvals.forms import GrantForm
from keyctl.approvals.views.detail import status
from keyctl.keys.access import CUTTERS, DESK, refuse_outsiders
from keyctl.places.models import Site

PER_PAGE = 25


@require_GET
def desk(request: Request) -> HttpResponse:
    refuse_outsiders(request.user)
    show = request.GET.get("show", "ready")
    show = show if show in counter.LISTS else "ready"
    page = Paginator(counter.requests_on(request.user, show), PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "show": show,
        "counts": counter.counts(request.user),
        "page": page,
        "rows": counter.rows_of(list(page)),
        "desk_sites": set(Site.objects.for_roles(request.user, *DESK).values_list("pk", flat=True)),
        "cutting_sites": set(Site.objects.for_roles(request.user, *CUTTERS).values_list("pk", flat=True)),
    }
    return render(request, "approvals/desk.html", facts)


@require_POST
def look_again(request: Request, pk: UUID) -> HttpResponse:
    found = access.request_to_fulfil(request.user, pk)
    done = services.look_again(actor=request.user, request=found)
    words = _("All keys lie ready.") if done.state == done.State.READY else _("Not all keys are there yet.")
    messages.success(request, _("Looked in stock again. {words}").format(words=words))
    return redirect("approvals:detail", pk)


@require_http_methods(["GET", "POST"])
def hand_out(request: Request, pk: UUID) -> HttpResponse:
    grant = access.workable_grant(request.user, pk)
    form = GrantForm(request.POST or None, grant=grant)
    if request.method == "POST":
        done = form.attempt(services.hand_out_grant, actor=request.user, grant=grant)
        if done:
            messages.success(
                request,
                _("Copy {copy} is now with {holder}.").format(copy=done.copy, holder=grant.request.holder),
            )
            return redirect("approvals:detail", grant.request.pk)
    facts = {"grant": grant, "key_request": grant.request, "form": form, "stock": list(form.stock)}
    return render(request, "approvals/hand_out.html", facts, status=status(form))
