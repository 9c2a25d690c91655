"""The register of control blanks: what lies there, and every line of it."""

from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.recovery import access, services
from keyctl.recovery.forms import BlanksForm, RegisterForm
from keyctl.recovery.models import ControlBlank

PER_PAGE = 25


@require_http_methods(["GET", "POST"])
def index(request: Request) -> HttpResponse:
    if request.method == "POST":
        access.refuse_idle(request.user)
    form = RegisterForm(request.POST or None, actor=request.user)
    made = form.attempt(services.register_blanks, actor=request.user) if request.method == "POST" else None
    if made:
        messages.success(request, _("The register is open. Receive the blanks that lie there."))
        return redirect("recovery:blank", made.pk)
    facts = {"blanks": access.visible_blanks(request.user), "form": form}
    return render(request, "recovery/blanks.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def register(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_blank(request.user, pk))


@require_POST
def receive(request: Request, pk: UUID) -> HttpResponse:
    return _write(request, pk, services.receive_blanks, "receive")


@require_POST
def scrap(request: Request, pk: UUID) -> HttpResponse:
    return _write(request, pk, services.scrap_blanks, "scrap")


@require_POST
def count(request: Request, pk: UUID) -> HttpResponse:
    return _write(request, pk, services.count_blanks, "count")


def _write(request: Request, pk: UUID, service: Callable[..., ControlBlank], act: str) -> HttpResponse:
    blank = access.workable_blank(request.user, pk)
    form = BlanksForm(request.POST, seen=blank, prefix=act)
    done = form.attempt(service, actor=request.user, blank=blank)
    if done is None:
        return _page(request, access.readable_blank(request.user, pk), form)
    messages.success(request, _("Written into the register: {count} there now.").format(count=done.count))
    return redirect("recovery:blank", pk)


def _page(request: Request, blank: ControlBlank, failed: BlanksForm | None = None) -> HttpResponse:
    forms = {act: BlanksForm(seen=blank, prefix=act) for act in ("receive", "count", "scrap")}
    if failed is not None and failed.prefix:
        forms[failed.prefix] = failed
    moves = blank.moves.select_related("by", "symbol", "case__system")
    facts = {
        "blank": blank,
        "page": Paginator(moves, PER_PAGE).get_page(request.GET.get("page")),
        "works": has_role(request.user, blank.site, *access.WORKERS),
        "forms": forms,
        "failed": failed,
    }
    return render(request, "recovery/blank.html", facts, status=UNPROCESSABLE if failed else 200)
