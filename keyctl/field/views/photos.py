"""Photos: taken in from tablets, and looked at."""

from http import HTTPStatus
from uuid import UUID

from django.contrib.auth.decorators import login_not_required, login_required
from django.core.paginator import Paginator
from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.field import access
from keyctl.field.jpeg import read_frame
from keyctl.field.models import FieldPhoto
from keyctl.field.selectors.photos import photos_of
from keyctl.field.services.photos import MOST_BYTES, receive_photo
from keyctl.field.views.problems import Problem, View, for_programs
from keyctl.lib.numbers import as_number
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Door
from keyctl.vault import services as vault

PHOTOS_ON_A_PAGE = 12


@login_not_required
@csrf_exempt
def photo(request: Request, pk: UUID) -> HttpResponseBase:
    """A page for people; a tablet puts the picture here, and is refused in a form that programs read."""
    answer: View = _take_in if request.method == "PUT" else login_required(require_GET(_look))
    return answer(request, pk)


@require_GET
def picture(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_photo(request.user, pk)
    content = vault.unseal_bytes(found, "content")
    read_frame(content)
    headers = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}
    return HttpResponse(content, content_type="image/jpeg", headers=headers)


@require_GET
def door_photos(request: Request, pk: UUID) -> HttpResponse:
    door = access.photographed_door(request.user, pk)
    return _photos(request, door, _("Door {door}").format(door=door), reverse("cores:door", args=[pk]))


@require_GET
def order_photos(request: Request, pk: UUID) -> HttpResponse:
    order = access.photographed_order(request.user, pk)
    return _photos(request, order, str(order), reverse("orders:detail", args=[pk]))


def _photos(request: Request, thing: Door | WorkOrder, name: str, back: str) -> HttpResponse:
    pages = Paginator(photos_of(request.user, thing), PHOTOS_ON_A_PAGE)
    facts = {"name": name, "back": back, "page": pages.get_page(request.GET.get("page"))}
    return render(request, "field/photos.html", facts)


def _look(request: Request, pk: UUID) -> HttpResponse:
    return render(request, "field/photo.html", {"photo": access.readable_photo(request.user, pk)})


@for_programs
def _take_in(request: Request, pk: UUID) -> HttpResponse:
    if request.content_type != "image/jpeg":
        raise Problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, _("Only JPEG pictures are taken."))
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        raise Problem(
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
            _("At most {most_bytes} bytes are taken.").format(most_bytes=as_number(MOST_BYTES)),
        )
    kept, is_new = receive_photo(actor=request.user, photo=pk, content=request.body)
    return JsonResponse(_facts(kept), status=HTTPStatus.CREATED if is_new else HTTPStatus.OK)


def _facts(photo: FieldPhoto) -> dict[str, object]:
    return {"photo": photo.pk, "sha256": photo.sha256, "size": photo.size}
