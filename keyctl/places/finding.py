"""What a printed code stands for. Places know doors; apps above tell of their own things at start."""

from collections.abc import Callable

from django.conf import settings
from django.http import Http404
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.lib.tags import clean_tag
from keyctl.places.access import readable_door
from keyctl.places.models import Door

# Answers with the address of the thing that carries the code, None where it is not one of its own. It fetches
# through permission: a stranger's thing is not found, a role that does not suffice is forbidden.
Finder = Callable[[User, str], str | None]

_finders: list[Finder] = []


def add_finder(finder: Finder) -> None:
    _finders.append(finder)


def page_of(actor: User, text: str) -> str:
    """The address of the page of what carries this code, typed or scanned; 404 where nothing does."""
    tag = clean_tag(text)
    for finder in (_door, *_finders):
        if address := finder(actor, tag):
            return address
    raise Http404


def printed_address(tag: str) -> str:
    """In capitals: a code of capitals and digits is smaller than one with small letters."""
    return f"{settings.BASE_URL}/Q/{tag}".upper()


def _door(actor: User, tag: str) -> str | None:
    door = Door.objects.filter(tag=tag).first()
    return reverse("cores:door", args=[readable_door(actor, door.pk).pk]) if door else None
