from collections.abc import Callable
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.desk.access import readable_act
from keyctl.orders.access import workable_order
from keyctl.prints import services
from keyctl.prints.frame import Composed
from keyctl.prints.reports.receipts import print_receipt
from keyctl.prints.sheets.batches import compose_batch_sheet
from keyctl.prints.sheets.large import start_large
from keyctl.prints.sheets.waves import print_wave_sheet
from keyctl.rotations.access import readable_wave


@require_POST
def pinning_sheet(request: Request, pk: UUID) -> HttpResponse:
    return _sheet_of(request, pk, services.compose_pinning_sheet, "pinning-sheet")


@require_POST
def batch_sheet(request: Request, pk: UUID) -> HttpResponse:
    return _sheet_of(request, pk, compose_batch_sheet, "batch-sheet")


@require_POST
def cutting_list(request: Request, pk: UUID) -> HttpResponse:
    return _sheet_of(request, pk, services.compose_cutting_list, "cutting-list")


def _sheet_of(request: Request, pk: UUID, compose: Callable[..., Composed], kind: str) -> HttpResponse:
    """A small one at once; a large one is set by a job, whose page shows how far it is."""
    order = workable_order(request.user, pk)
    composed = compose(actor=request.user, order=order, sign_in=fresh_sign_in(request))
    name = f"{kind}-{order.number}"
    if not composed.is_large:
        return _secret_file(composed.pdf(), f"{name}.pdf")
    back = reverse("orders:detail", args=[order.pk])
    job = start_large(actor=request.user, order=order, composed=composed, name=name, back_url=back)
    return redirect("jobs:detail", job.pk)


@require_POST
def wave_sheet(request: Request, pk: UUID) -> HttpResponse:
    wave = readable_wave(request.user, pk)
    pdf = print_wave_sheet(actor=request.user, wave=wave)
    return _secret_file(pdf, f"wave-{wave.rotation.number}-{wave.ordinal}.pdf")


@require_POST
def receipt(request: Request, pk: UUID) -> HttpResponse:
    name, pdf = print_receipt(actor=request.user, act=readable_act(request.user, pk))
    return _secret_file(pdf, name)


def _secret_file(pdf: bytes, name: str) -> HttpResponse:
    """A file to save, which no cache keeps."""
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"},
    )
