"""Photos from tablets: the picture comes by itself, an event says where it belongs; either may be first."""

import hashlib
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from keyctl.accounts.models import User
from keyctl.field.access import PHOTO_READERS, require_locksmith
from keyctl.field.jpeg import read_frame
from keyctl.field.models import FieldPhoto
from keyctl.field.models.photos import LONGEST_CAPTION
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.lib.retold import kept_text
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.access import require_role
from keyctl.places.models import Door
from keyctl.vault import services as vault

MOST_BYTES = 1_500_000
# Pictures of one person of which no event has told yet; a tablet's outbox holds fewer.
MOST_HOMELESS = 500
# As long as what tablets tell is kept; a photo of an order stays as long after the order's end.
KEPT_FOR = timedelta(days=400)
THROWN_AWAY = kept_text(gettext_noop("Photos past their time thrown away: {count}."))


def receive_photo(*, actor: User, photo: UUID, content: bytes) -> tuple[FieldPhoto, bool]:
    """The photo, and whether it is new: the same picture sent again under its identifier is the same."""
    require_locksmith(actor)
    if len(content) > MOST_BYTES:
        raise Refused(
            gettext("This picture has {content} bytes; at most {most_bytes} are taken.").format(
                content=as_number(len(content)), most_bytes=as_number(MOST_BYTES)
            )
        )
    frame = read_frame(content)
    facts = {"size": len(content), "width": frame.width, "height": frame.height, "sent_by": actor}
    try:
        return _receive(actor, photo, content, facts)
    except IntegrityError:
        # The same photo came twice at once; the first is there now.
        return _receive(actor, photo, content, facts)


@transaction.atomic
def _receive(actor: User, pk: UUID, content: bytes, facts: dict[str, Any]) -> tuple[FieldPhoto, bool]:
    sha256 = hashlib.sha256(content).hexdigest()
    photo = FieldPhoto.objects.select_for_update(of=("self",)).filter(pk=pk).first()
    _refuse_another(photo, sha256)
    if photo is not None and photo.received_at is not None:
        return photo, False
    is_told_of = photo is not None
    if photo is None:
        _refuse_too_many(actor)
        photo = FieldPhoto(pk=pk, sha256=sha256)
    for name, value in facts.items():
        setattr(photo, name, value)
    photo.received_at = timezone.now()
    photo.content = vault.seal_bytes(photo, "content", content)
    photo.save(force_update=is_told_of, force_insert=not is_told_of)
    return photo, True


def place_photo(
    *,
    actor: User,
    photo: UUID,
    sha256: str,
    door: Door,
    line: OrderLine | None = None,
    caption: str = "",
    claimed_at: datetime,
) -> FieldPhoto:
    """Say where a photo belongs; it may be here already or still be on its way. Whoever takes in the event
    that tells of it writes the history."""
    require_role(actor, door.site, *PHOTO_READERS)
    if line is not None and line.order.site_id != door.site.pk:
        raise Refused(gettext("{order} is of another site than {door}.").format(order=line.order, door=door))
    facts = {"caption": caption[:LONGEST_CAPTION], "taken_by": actor, "claimed_at": claimed_at}
    try:
        return _place(photo, sha256, door, line, facts)
    except IntegrityError:
        # The picture came in between; its row is there now.
        return _place(photo, sha256, door, line, facts)


@transaction.atomic
def _place(photo: UUID, sha256: str, door: Door, line: OrderLine | None, facts: dict[str, Any]) -> FieldPhoto:
    kept = FieldPhoto.objects.select_for_update(of=("self",)).defer("content").filter(pk=photo).first()
    _refuse_another(kept, sha256)
    if kept is not None and kept.door_id is not None:
        return _same_place(kept, door, line)
    facts = {**facts, "site": door.site, "door": door, "line": line}
    placed = kept or FieldPhoto(pk=photo, sha256=sha256)
    for name, value in facts.items():
        setattr(placed, name, value)
    if kept is None:
        placed.save(force_insert=True)
    else:
        placed.save(update_fields=list(facts))
    return placed


def throw_away_photos(now: datetime) -> str:
    """For the routine that comes round: what is past its time goes, unless its order is still open."""
    old = now - KEPT_FOR
    needed = Q(line__order__state__in=WorkOrder.UNFINISHED) | Q(line__order__closed_at__gte=old)
    kept = FieldPhoto.objects.filter(needed).values("pk")
    count, _ = FieldPhoto.objects.filter(begun_at__lt=old).exclude(pk__in=kept).delete()
    return THROWN_AWAY.format(count=count)


def _refuse_another(photo: FieldPhoto | None, sha256: str) -> None:
    if photo is not None and photo.sha256 != sha256:
        raise Conflict(
            gettext(
                "There is another picture under this photo's identifier, and it stays. Take the photo again."
            )
        )


def _refuse_too_many(actor: User) -> None:
    if FieldPhoto.objects.filter(sent_by=actor, door__isnull=True).count() >= MOST_HOMELESS:
        raise Refused(
            gettext(
                "{most_homeless} photos of yours wait for what says where they belong. Send what waits on "
                "the tablet first."
            ).format(most_homeless=MOST_HOMELESS)
        )


def _same_place(photo: FieldPhoto, door: Door, line: OrderLine | None) -> FieldPhoto:
    if (photo.door_id, photo.line_id) != (door.pk, line.pk if line else None):
        raise Conflict(
            gettext("This photo belongs to {door} already. Take another one here.").format(door=photo.door)
        )
    return photo
