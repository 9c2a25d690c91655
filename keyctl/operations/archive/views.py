"""The page of archives: asked for, permitted, made, fetched."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.fresh import SignInAgain, fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.operations.archive import services
from keyctl.operations.archive.access import own_archive, readable_archives, require_keeper
from keyctl.operations.archive.forms import AskForm, PassphraseForm
from keyctl.operations.models import EstateArchive, EstateArchiveFile
from keyctl.reveals.models import Permission

MOST_SHOWN = 50


@dataclass(frozen=True)
class Row:
    archive: EstateArchive
    file: EstateArchiveFile | None
    permission: Permission | None
    form: PassphraseForm | None
    is_own: bool


@require_http_methods(["GET", "POST"])
def archives(request: Request) -> HttpResponse:
    require_keeper(request.user)
    form = AskForm(request.POST or None)
    asked = form.attempt(services.ask_archive, actor=request.user) if request.method == "POST" else None
    if asked:
        messages.success(request, _("Asked. A security officer decides; then you have it made here."))
        return redirect("operations:archive")
    return _page(request, ask=form, status=UNPROCESSABLE if request.method == "POST" else 200)


@never_cache
@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    archive = own_archive(request.user, pk)
    form = PassphraseForm(request.POST, archive=archive)
    facts: dict[str, Any] = {"actor": request.user, "archive": archive, "sign_in": fresh_sign_in(request)}
    job = form.attempt(services.start_archive, **facts)
    if job is None:
        if isinstance(form.refusal, SignInAgain):
            raise form.refusal
        return _page(request, ask=AskForm(), typed=form, status=UNPROCESSABLE)
    return redirect("jobs:detail", job.pk)


@never_cache
@require_POST
def fetch(request: Request, pk: UUID) -> HttpResponse | FileResponse:
    """Streamed from the disk, however large it is."""
    archive = own_archive(request.user, pk)
    sign_in = fresh_sign_in(request)
    try:
        place = services.fetch_archive(actor=request.user, archive=archive, sign_in=sign_in)
    except SignInAgain:
        raise
    except Refused as refused:
        messages.error(request, refused.message)
        return redirect("operations:archive")
    return FileResponse(place.open("rb"), as_attachment=True, content_type="application/octet-stream")


@require_POST
def delete(request: Request, pk: UUID) -> HttpResponse:
    try:
        services.delete_archive(actor=request.user, archive=own_archive(request.user, pk))
        messages.success(request, _("The file is deleted. The register keeps that it was made."))
    except Refused as refused:
        messages.error(request, refused.message)
    return redirect("operations:archive")


def _page(
    request: Request, *, ask: AskForm, typed: PassphraseForm | None = None, status: int
) -> HttpResponse:
    found = list(readable_archives(request.user)[:MOST_SHOWN])
    asked = Permission.objects.filter(subject_id__in=[each.pk for each in found], kind=services.KIND)
    permissions = {each.subject_id: each for each in asked.with_names().order_by("asked_at")}
    rows = [_row(request, each, permissions.get(each.pk), typed) for each in found]
    context = {"ask": ask, "rows": rows, "waiting": [row for row in rows if row.is_own and not row.file]}
    return render(request, "operations/archive.html", context, status=status)


def _row(
    request: Request, archive: EstateArchive, permission: Permission | None, typed: PassphraseForm | None
) -> Row:
    file, is_own = getattr(archive, "file", None), archive.actor_id == request.user.pk
    form = None
    if is_own and file is None and permission and permission.is_open:
        mine = typed if typed and typed.archive == archive else None
        form = mine or PassphraseForm(archive=archive)
    return Row(archive, file, permission, form, is_own)
