"""A photo as a tablet makes it, taken in and placed at a door."""

import hashlib
import io
from typing import Any
from uuid import UUID

from django.utils import timezone
from PIL import Image

from keyctl.accounts.models import User
from keyctl.field.models import FieldPhoto
from keyctl.field.services.photos import place_photo, receive_photo
from keyctl.places.models import Door


def jpeg(colour: str = "red", size: tuple[int, int] = (40, 30)) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", size, colour).save(kept, format="JPEG")
    return kept.getvalue()


RED, BLUE = jpeg("red"), jpeg("blue")


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def a_photo(actor: User, pk: UUID, door: Door, content: bytes = RED, **facts: Any) -> FieldPhoto:
    receive_photo(actor=actor, photo=pk, content=content)
    told = {"sha256": digest(content), "claimed_at": timezone.now(), **facts}
    return place_photo(actor=actor, photo=pk, door=door, **told)
