"""Tablets: registered where they are held, listed, renamed, withdrawn."""

from http import HTTPStatus
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.field import access, services
from keyctl.field.forms import RegisterForm, RenameForm, WithdrawForm
from keyctl.field.models import Device
from keyctl.field.selectors.devices import gaps_of, told_by, used_twice
from keyctl.field.views.api import COOKIE, device_in, told_device
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE, problem

# As long as browsers keep a cookie at most.
PROOF_LASTS_S = 400 * 24 * 60 * 60
EVENTS_ON_A_PAGE = 25


@require_GET
def devices(request: Request) -> HttpResponse:
    access.require_keeper_somewhere(request.user)
    pages = Paginator(access.visible_devices(request.user), EVENTS_ON_A_PAGE)
    facts = {
        "page": pages.get_page(request.GET.get("page")),
        "own": device_in(request),
        "registers": access.field_sites(request.user).exists(),
    }
    return render(request, "field/devices.html", facts)


@require_http_methods(["GET", "POST"])
def register(request: Request) -> HttpResponseBase:
    access.require_locksmith(request.user)
    form = RegisterForm(request.POST or None, actor=request.user)
    if request.method == "POST" and (done := form.attempt(services.register_device, actor=request.user)):
        return _with_proof(request, done)
    if request.method == "POST" and request.accepts("application/json") and not request.accepts("text/html"):
        words = " ".join(str(word) for errors in form.errors.values() for word in errors)
        return problem(HTTPStatus.UNPROCESSABLE_ENTITY, words)
    status = UNPROCESSABLE if form.is_bound else HTTPStatus.OK
    return render(request, "field/register.html", {"form": form, "own": device_in(request)}, status=status)


def _with_proof(request: Request, done: services.Registered) -> HttpResponseBase:
    """The proof goes into the tablet's cookie and is shown nowhere."""
    answer: HttpResponseBase
    if request.accepts("text/html"):
        messages.success(request, _("This is the tablet {device} from now on.").format(device=done.device))
        answer = redirect("field:devices")
    else:
        answer = JsonResponse({"device": told_device(done.device)}, status=HTTPStatus.CREATED)
    answer.set_cookie(
        COOKIE,
        done.proof,
        max_age=PROOF_LASTS_S,
        path="/field/",
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Strict",
    )
    return answer


@require_GET
def device(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.kept_device(request.user, pk))


@require_POST
def rename(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_device(request.user, pk)
    form = RenameForm(request.POST)
    if form.attempt(services.rename_device, actor=request.user, device=found):
        messages.success(request, _("The tablet has another name."))
        return redirect("field:device", pk)
    return _page(request, found, form)


@require_POST
def withdraw(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_device(request.user, pk)
    form = WithdrawForm(request.POST)
    if form.attempt(services.withdraw_device, actor=request.user, device=found):
        messages.success(request, _("The tablet is withdrawn. What it still tells waits for a decision."))
        return redirect("field:device", pk)
    return _page(request, found, form)


def _page(request: Request, found: Device, form: ServiceForm | None = None) -> HttpResponse:
    pages = Paginator(told_by(found), EVENTS_ON_A_PAGE)
    facts = {
        "device": found,
        "form": form,
        "rename": form if isinstance(form, RenameForm) else RenameForm(initial={"name": found.name}),
        "withdraw": form if isinstance(form, WithdrawForm) else WithdrawForm(),
        "gaps": gaps_of(found),
        "twice": used_twice(found),
        "page": pages.get_page(request.GET.get("page")),
        "events": history_of(found),
    }
    return render(request, "field/device.html", facts, status=UNPROCESSABLE if form else HTTPStatus.OK)
