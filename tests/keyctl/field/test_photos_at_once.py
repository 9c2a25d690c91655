"""A tablet that heard no answer sends a photo again while the first is still being taken in."""

from functools import partial
from uuid import uuid4

import pytest
from django.utils import timezone

from keyctl.field.models import FieldPhoto
from keyctl.field.services.photos import place_photo, receive_photo
from keyctl.lib.errors import Conflict
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.keyctl.field.photographs import BLUE, RED, digest
from tests.together import at_once


@pytest.mark.django_db(transaction=True)
def test_it_is_kept_once_and_another_picture_never_takes_its_place(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    for _ in range(4):
        pk = uuid4()
        receive = partial(receive_photo, actor=cast.locksmith, photo=pk)
        tell = partial(place_photo, actor=cast.locksmith, photo=pk, door=door)
        tell = partial(tell, sha256=digest(RED), claimed_at=timezone.now())
        came = at_once(
            *[partial(receive, content=RED)] * 3, tell, partial(receive, content=BLUE), refusal=Conflict
        )
        kept = FieldPhoto.objects.get(pk=pk)
        assert (
            vault.unseal_bytes(kept, "content") == {digest(each): each for each in (RED, BLUE)}[kept.sha256]
        )
        won = [each for each in came if isinstance(each, tuple)]
        assert [is_new for _, is_new in won].count(True) == 1
        assert {photo.sha256 for photo, _ in won} == {kept.sha256}
        # Whoever came with the other picture was told so; what tells of the right one was heard.
        assert sum(isinstance(each, Conflict) for each in came) == (1 if kept.sha256 == digest(RED) else 4)
        assert (kept.door == door) == (kept.sha256 == digest(RED))
