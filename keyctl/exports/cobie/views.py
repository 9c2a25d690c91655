from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.exports.cobie import services
from keyctl.places.access import administered_building


@require_POST
def export(request: Request, pk: UUID) -> HttpResponse:
    """By POST: history tells who took it."""
    building = administered_building(request.user, pk)
    content = services.export_cobie(actor=request.user, building=building)
    name = services.file_name(building)
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    return HttpResponse(content, content_type=services.WORKBOOK, headers=headers)
