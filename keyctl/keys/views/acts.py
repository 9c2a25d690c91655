"""Each act on one copy, and cutting new ones."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.keys import access, services
from keyctl.keys.forms import (
    BrokenForm,
    CabinetForm,
    CopyForm,
    CutForm,
    DestroyForm,
    FoundForm,
    HandOutForm,
    LostForm,
    TakeBackForm,
    TransferForm,
)
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.keys.views.answers import answer, did, done, posted


@dataclass(frozen=True)
class CopyAct:
    """A page that does one thing to a copy: whose copy it may be, what it asks, does and says."""

    fetch: Callable[[User, UUID], KeyCopy]
    form: type[CopyForm]
    service: Callable[..., Any]
    title: str
    button: str
    said: str
    is_grave: bool = False


@require_http_methods(["GET", "POST"])
def hand_out(request: Request, pk: UUID) -> HttpResponse:
    said = _("Copy {} is with its new holder.")
    return _do(
        request,
        pk,
        CopyAct(
            access.workable_copy, HandOutForm, services.hand_out, _("Hand out"), _("Hand out the key"), said
        ),
    )


@require_http_methods(["GET", "POST"])
def take_back(request: Request, pk: UUID) -> HttpResponse:
    said = _("Copy {} is back in its cabinet.")
    return _do(
        request,
        pk,
        CopyAct(
            access.workable_copy,
            TakeBackForm,
            services.take_back,
            _("Take back"),
            _("Take the key back"),
            said,
        ),
    )


@require_http_methods(["GET", "POST"])
def transfer(request: Request, pk: UUID) -> HttpResponse:
    said = _("Copy {} is with its new holder; both stand in the register.")
    return _do(
        request,
        pk,
        CopyAct(access.workable_copy, TransferForm, _transfer, _("Transfer"), _("Transfer the key"), said),
    )


@require_http_methods(["GET", "POST"])
def found(request: Request, pk: UUID) -> HttpResponse:
    said = _("Copy {} is found, and in its cabinet.")
    return _do(
        request,
        pk,
        CopyAct(access.workable_copy, FoundForm, services.take_found, _("Found"), _("Take the key in"), said),
    )


@require_http_methods(["GET", "POST"])
def move(request: Request, pk: UUID) -> HttpResponse:
    said = _("Copy {} hangs in another cabinet.")
    return _do(
        request,
        pk,
        CopyAct(access.workable_copy, CabinetForm, _move, _("Hang elsewhere"), _("Move the key"), said),
    )


@require_http_methods(["GET", "POST"])
def lost(request: Request, pk: UUID) -> HttpResponse:
    said, button = _("Copy {} is reported lost. Look at the doors it opens."), _("Report the key lost")
    act = CopyAct(access.losable_copy, LostForm, services.report_lost, _("Report lost"), button, said, True)
    return _do(request, pk, act)


@require_http_methods(["GET", "POST"])
def broken(request: Request, pk: UUID) -> HttpResponse:
    said, button = _("Copy {} is reported broken. It is not handed out again."), _("Report the key broken")
    act = CopyAct(
        access.destroyable_copy, BrokenForm, services.report_broken, _("Report broken"), button, said
    )
    return _do(request, pk, act)


@require_http_methods(["GET", "POST"])
def destroy(request: Request, pk: UUID) -> HttpResponse:
    said, button = _("Copy {} is destroyed."), _("The key is destroyed")
    act = CopyAct(
        access.destroyable_copy, DestroyForm, services.destroy_copy, _("Destroy"), button, said, True
    )
    return _do(request, pk, act)


@require_http_methods(["GET", "POST"])
def cut(request: Request, pk: UUID) -> HttpResponse:
    site = access.cutting_site(request.user, pk)
    symbol = access.symbol_to_cut(site, request.GET.get("symbol", ""))
    form = CutForm(posted(request), site=site, symbol=symbol)
    copies = did(form, services.cut_copies, actor=request.user, site=site)
    if copies:
        serials = ", ".join(str(each) for each in copies)
        messages.success(request, _("In stock now, with these serials: {serials}.").format(serials=serials))
        return redirect(f"{reverse('keys:desk')}?show=stock")
    return answer(request, "keys/cut.html", form, {"site": site, "symbol": symbol})


def _do(request: Request, pk: UUID, act: CopyAct) -> HttpResponse:
    copy = act.fetch(request.user, pk)
    form = act.form(posted(request), copy=copy)
    if did(form, act.service, actor=request.user, copy=copy):
        return done(request, act.said.format(copy), "keys:copy", copy.pk)
    facts = {"copy": copy, "title": act.title, "button": act.button, "is_grave": act.is_grave}
    return answer(request, "keys/act.html", form, facts)


def _transfer(*, copy: KeyCopy, **facts: Any) -> Any:
    return services.transfer_keys(copies=[copy], **facts)


def _move(*, actor: User, copy: KeyCopy, cabinet: Cabinet, version: int) -> list[KeyCopy]:
    return services.move_copies(actor=actor, copies=[copy], cabinet=cabinet, version=version)
