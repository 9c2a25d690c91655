from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.desk.access import readable_act
from keyctl.orders.access import workable_order
from keyctl.prints import services
from keyctl.prints.batches import print_batch_sheet
from keyctl.prints.receipts import print_receipt
from keyctl.prints.waves import print_wave_sheet
from keyctl.rotations.access import readable_wave


@require_POST
def pinning_sheet(request: Request, pk: UUID) -> HttpResponse:
    order = workable_order(request.user, pk)
    pdf = services.print_pinning_sheet(actor=request.user, order=order, sign_in=fresh_sign_in(request))
    return _secret_file(pdf, f"pinning-sheet-{order.number}.pdf")


@require_POST
def batch_sheet(request: Request, pk: UUID) -> HttpResponse:
    order = workable_order(request.user, pk)
    pdf = print_batch_sheet(actor=request.user, order=order, sign_in=fresh_sign_in(request))
    return _secret_file(pdf, f"batch-sheet-{order.number}.pdf")


@require_POST
def cutting_list(request: Request, pk: UUID) -> HttpResponse:
    order = workable_order(request.user, pk)
    pdf = services.print_cutting_list(actor=request.user, order=order, sign_in=fresh_sign_in(request))
    return _secret_file(pdf, f"cutting-list-{order.number}.pdf")


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
