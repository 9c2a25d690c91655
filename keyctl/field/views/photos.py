"""Photos: taken in from tablets, and looked at."""

from http import HTTPStatus
from uuid import UUID

from django.contrib.auth.decorators import login_not_required, login_required
from django.core.paginator import Paginator
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.field import access
from keyctl.field.jpeg import read_frame
from keyctl.field.models import FieldPhoto
from keyctl.field.selectors.photos import photos_of
from keyctl.field.services.photos import MOST_BYTES, receive_photo
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Door
from keyctl.vault import services as vault

PHOTOS_ON_A_PAGE = 12


@require_http_methods(["GET", "PUT"])
@login_not_required
def photo(request: Request, pk: UUID) -> HttpResponse:
    """A tablet puts a picture here, and is told of an ended sign-in without being led elsewhere."""
    if request.method == "PUT":
        return _take_in(request, pk)
    answer: HttpResponse = login_required(_look)(request, pk)
    return answer


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
    return _photos(request, door, f"Door {door}", reverse("cores:door", args=[pk]))


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


def _take_in(request: Request, pk: UUID) -> HttpResponse:
    if not request.user.is_authenticated:
        return _problem(HTTPStatus.UNAUTHORIZED, "Sign in again; the photo stays on the tablet until then.")
    if request.content_type != "image/jpeg":
        return _problem(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Only JPEG pictures are taken.")
    if int(request.META.get("CONTENT_LENGTH") or 0) > MOST_BYTES:
        return _problem(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"At most {MOST_BYTES:,} bytes are taken.")
    try:
        kept, is_new = receive_photo(actor=request.user, photo=pk, content=request.body)
    except Refused as refusal:
        is_conflict = isinstance(refusal, Conflict)
        return _problem(HTTPStatus.CONFLICT if is_conflict else HTTPStatus.UNPROCESSABLE_ENTITY, str(refusal))
    return JsonResponse(_facts(kept), status=HTTPStatus.CREATED if is_new else HTTPStatus.OK)


def _facts(photo: FieldPhoto) -> dict[str, object]:
    return {"photo": photo.pk, "sha256": photo.sha256, "size": photo.size}


def _problem(status: HTTPStatus, detail: str) -> HttpResponse:
    """Problem details (RFC 9457) for the program on the tablet."""
    facts = {"type": "about:blank", "title": status.phrase, "status": status, "detail": detail}
    return JsonResponse(facts, status=status, content_type="application/problem+json")
