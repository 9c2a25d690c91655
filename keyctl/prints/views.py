from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.orders.access import workable_order
from keyctl.prints import services


@require_POST
def pinning_sheet(request: Request, pk: UUID) -> HttpResponse:
    order = workable_order(request.user, pk)
    pdf = services.print_pinning_sheet(actor=request.user, order=order)
    name = f"pinning-sheet-{order.number}.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"},
    )
