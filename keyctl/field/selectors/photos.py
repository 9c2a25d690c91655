"""Photos to look at, and how many there are of a thing."""

from django.db.models import Model, QuerySet
from django.urls import reverse
from django.utils.translation import ngettext

from keyctl.accounts.models import User
from keyctl.field.access import visible_photos
from keyctl.field.models import FieldPhoto
from keyctl.orders.models import WorkOrder
from keyctl.places.beside import Link
from keyctl.places.models import Door


def photos_of(actor: User, thing: Door | WorkOrder) -> QuerySet[FieldPhoto]:
    """Of a door, or of every line of an order, newest first."""
    photos = visible_photos(actor)
    return photos.filter(door=thing) if isinstance(thing, Door) else photos.filter(line__order=thing)


def link_to_photos(actor: User, thing: Model) -> list[Link]:
    """For the pages of doors and orders, which lie below."""
    if not isinstance(thing, Door | WorkOrder):
        return []
    count = photos_of(actor, thing).count()
    name = "field:door-photos" if isinstance(thing, Door) else "field:order-photos"
    label = ngettext("{count} photo", "{count} photos", count).format(count=count)
    return [Link(label, reverse(name, args=[thing.pk]))] if count else []
