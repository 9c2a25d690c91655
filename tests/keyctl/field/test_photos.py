"""Photos: sent by tablets, told of by events in any order, looked at by few, thrown away in time."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.field.models import FieldPhoto
from keyctl.field.services import photos
from keyctl.field.services.photos import KEPT_FOR, place_photo, receive_photo, throw_away_photos
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door
from keyctl.vault.errors import Tampered
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.photographs import BLUE, RED, digest


@pytest.fixture
def door(cast: Cast) -> Door:
    return factories.make_door(cast.north)


@pytest.fixture
def line(cast: Cast, door: Door) -> OrderLine:
    order = WorkOrder.objects.create(
        number=1, site=cast.north, kind="inspect", title="Look at it", opened_by=cast.locksmith
    )
    return OrderLine.objects.create(order=order, ordinal=1, door=door)


def receive(cast: Cast, pk: UUID, content: bytes = RED) -> bool:
    return receive_photo(actor=cast.locksmith, photo=pk, content=content)[1]


def place(cast: Cast, pk: UUID, door: Door, **facts: Any) -> FieldPhoto:
    given = {"actor": cast.locksmith, "sha256": digest(RED), "claimed_at": timezone.now(), **facts}
    return place_photo(photo=pk, door=door, **given)


def put(client: Client, pk: UUID, content: bytes = RED, **facts: Any) -> Any:
    facts.setdefault("content_type", "image/jpeg")
    return client.put(reverse("field:photo", args=[pk]), content, **facts)


@pytest.mark.parametrize("acts", [(receive, place), (place, receive)])
def test_the_picture_and_what_tells_of_it_come_in_any_order(
    cast: Cast, client: Client, door: Door, line: OrderLine, acts: tuple[Callable[..., Any], ...]
) -> None:
    pk = uuid4()
    for act in acts:
        act(cast, pk) if act is receive else act(cast, pk, door, line=line, caption="Latch")
    client.force_login(cast.officer)
    page = client.get(reverse("field:photo", args=[pk])).content.decode()
    assert "Latch" in page
    assert digest(RED) in page
    answer = client.get(reverse("field:photo-picture", args=[pk]))
    assert answer.content == RED
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


def test_the_pages_of_the_door_and_the_order_lead_to_their_photos(
    cast: Cast, client: Client, door: Door, line: OrderLine
) -> None:
    for number in range(2):
        pk = uuid4()
        receive(cast, pk)
        place(cast, pk, door, line=line if number else None)
    for name, thing, count in (("door", door, 2), ("order", line.order, 1)):
        page = reverse({"door": "cores:door", "order": "orders:detail"}[name], args=[thing.pk])
        photos_page = reverse(f"field:{name}-photos", args=[thing.pk])
        client.force_login(cast.officer)
        assert photos_page in client.get(page).content.decode()
        assert client.get(photos_page).content.decode().count("/picture/") == count
        client.force_login(cast.auditor)
        assert photos_page not in client.get(page).content.decode()


def test_sent_again_it_is_the_same_photo(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    pk = uuid4()
    first, again = put(client, pk), put(client, pk)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json() == {"photo": str(pk), "sha256": digest(RED), "size": len(RED)}
    assert FieldPhoto.objects.count() == 1


def test_another_picture_under_its_identifier_is_refused(cast: Cast, client: Client, door: Door) -> None:
    client.force_login(cast.locksmith)
    came, told_of = uuid4(), uuid4()
    put(client, came)
    place(cast, told_of, door)
    for pk in (came, told_of):
        answer = put(client, pk, BLUE)
        assert answer.status_code == 409
        assert answer.headers["Content-Type"] == "application/problem+json"
        assert "another picture" in answer.json()["detail"]
    with pytest.raises(Conflict, match="another picture"):
        place(cast, came, door, sha256=digest(BLUE))
    assert FieldPhoto.objects.get(pk=came).sha256 == digest(RED)


def test_told_again_it_stays_where_it_is(cast: Cast, door: Door) -> None:
    pk = uuid4()
    place(cast, pk, door)
    place(cast, pk, door)
    with pytest.raises(Conflict, match="belongs to"):
        place(cast, pk, factories.make_door(cast.north))
    assert FieldPhoto.objects.get().door == door


def test_a_line_of_another_site_is_refused(cast: Cast, line: OrderLine) -> None:
    elsewhere = factories.make_door(cast.south)
    with pytest.raises(Refused, match="another site"):
        place(cast, uuid4(), elsewhere, line=line, actor=cast.stranger)


def test_the_picture_is_sealed_and_opens_in_its_own_row_only(cast: Cast, client: Client, door: Door) -> None:
    first, second = uuid4(), uuid4()
    for pk, content in ((first, RED), (second, BLUE)):
        receive(cast, pk, content)
        place(cast, pk, door, sha256=digest(content))
    sealed = bytes(FieldPhoto.objects.get(pk=first).content or b"")
    assert RED[20:200] not in sealed
    FieldPhoto.objects.filter(pk=second).update(content=sealed)
    client.force_login(cast.locksmith)
    client.raise_request_exception = True
    answer = client.get(reverse("field:photo-picture", args=[second]))
    assert answer.status_code == 422
    assert RED[20:200] not in answer.content
    assert issubclass(Tampered, Refused)


@pytest.mark.parametrize(
    ("content", "kind", "status"),
    [
        (b"GIF89a", "image/jpeg", 422),
        (RED, "image/png", 415),
        (RED + b"more", "image/jpeg", 422),
        (RED + b"\0" * 1_500_000, "image/jpeg", 413),
    ],
)
def test_what_is_no_plain_jpeg_is_refused(
    cast: Cast, client: Client, content: bytes, kind: str, status: int
) -> None:
    client.force_login(cast.locksmith)
    answer = put(client, uuid4(), content, content_type=kind)
    assert answer.status_code == answer.json()["status"] == status
    assert not FieldPhoto.objects.exists()


def test_an_ended_sign_in_is_told_and_leads_nowhere(client: Client, db: None) -> None:
    answer = put(client, uuid4())
    assert answer.status_code == 401
    assert answer.headers["Content-Type"] == "application/problem+json"
    page = client.get(reverse("field:photo", args=[uuid4()]))
    assert page.status_code == 302
    assert not FieldPhoto.objects.exists()


def test_a_foreign_page_puts_nothing(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.locksmith)
    assert put(client, uuid4()).status_code == 403
    assert not FieldPhoto.objects.exists()


@pytest.mark.parametrize("name", ["desk", "manager", "auditor", "requester", "administrator"])
def test_only_locksmiths_and_officers_look_and_only_locksmiths_send(
    cast: Cast, client: Client, door: Door, name: str
) -> None:
    pk = uuid4()
    receive(cast, pk)
    place(cast, pk, door)
    client.force_login(getattr(cast, name))
    for route in ("field:photo", "field:photo-picture"):
        assert client.get(reverse(route, args=[pk])).status_code == 403
    assert put(client, uuid4()).status_code == 403
    with pytest.raises(PermissionDenied):
        place(cast, uuid4(), door, actor=getattr(cast, name))


def test_a_stranger_finds_nothing(cast: Cast, client: Client, door: Door) -> None:
    pk = uuid4()
    receive(cast, pk)
    place(cast, pk, door)
    client.force_login(cast.stranger)
    for route, thing in (("photo", pk), ("photo-picture", pk), ("door-photos", door.pk)):
        assert client.get(reverse(f"field:{route}", args=[thing])).status_code == 404
    with pytest.raises(Http404):
        place(cast, uuid4(), door, actor=cast.stranger)


def test_what_belongs_nowhere_yet_is_shown_to_nobody(cast: Cast, client: Client, door: Door) -> None:
    came, told_of = uuid4(), uuid4()
    receive(cast, came)
    place(cast, told_of, door)
    client.force_login(cast.locksmith)
    for pk in (came, told_of):
        assert client.get(reverse("field:photo-picture", args=[pk])).status_code == 404


def test_nobody_heaps_up_photos_that_belong_nowhere(
    cast: Cast, door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MOST_HOMELESS", 2)
    first, second = uuid4(), uuid4()
    receive(cast, first)
    receive(cast, second)
    with pytest.raises(Refused, match="wait for what says where"):
        receive(cast, uuid4())
    place(cast, first, door)
    assert receive(cast, uuid4())


@pytest.mark.parametrize(
    ("order", "stays"),
    [(("open", None), True), (("done", 399), True), (("done", 401), False), (None, False)],
)
def test_a_photo_stays_400_days_beyond_its_order(
    cast: Cast, door: Door, line: OrderLine, order: tuple[str, int | None] | None, stays: bool
) -> None:
    now = timezone.now()
    pk, young = uuid4(), uuid4()
    receive(cast, pk)
    receive(cast, young)
    place(cast, pk, door, line=line if order else None)
    FieldPhoto.objects.filter(pk=pk).update(begun_at=now - KEPT_FOR - timedelta(days=1))
    state, days = order or ("open", None)
    WorkOrder.objects.update(state=state, closed_at=now - timedelta(days=days) if days else None)
    assert throw_away_photos(now) == f"Photos past their time thrown away: {0 if stays else 1}."
    assert FieldPhoto.objects.filter(pk=pk).exists() == stays
    assert FieldPhoto.objects.filter(pk=young).exists()
