from typing import Any
from uuid import uuid4

from keyctl.orders.services import open_pin_order
from tests import factories
from tests.keyctl.field.photographs import a_photo
from tests.scenes.base import Base


def routes(base: Base) -> dict[str, Any]:
    locksmith, site = base.cast.locksmith, base.cast.north
    fresh = factories.make_core(actor=locksmith, site=site, system=base.system, pinned=False)
    order = open_pin_order(actor=locksmith, site=site, title="Work", cores=[fresh])
    photo = a_photo(locksmith, uuid4(), base.housing.door)
    return {
        "field:photo": photo.pk,
        "field:photo-picture": photo.pk,
        "field:door-photos": base.housing.door.pk,
        "field:order-photos": order.pk,
    }
