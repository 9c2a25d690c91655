"""The report of a loss, to save."""

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.losses.access import readable_case
from keyctl.prints.reports.incident import print_incident


@require_POST
def incident(request: Request, pk: UUID) -> HttpResponse:
    """A print is an event, so it is asked for with a button and not with a link."""
    case = readable_case(request.user, pk)
    pdf = print_incident(actor=request.user, case=case)
    headers = {
        "Content-Disposition": f'attachment; filename="loss-{case.number}.pdf"',
        "Cache-Control": "no-store",
    }
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)
