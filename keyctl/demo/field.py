"""A tablet of the invented estate, and one contradiction that waits: a door was found without its core."""

from uuid import uuid4

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.services import register_device, take_batch
from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Site
from keyctl.places.roles import Role


def build_field(people: dict[Role, User]) -> None:
    smith = people[Role.LOCKSMITH]
    site = Site.objects.order_by("code")[1]
    tablet = register_device(actor=smith, site=site, name="Tablet in the van").device
    take_batch(
        actor=smith,
        device=tablet,
        sent_at=timezone.now(),
        events=[_found_empty(smith, _quiet_core(site))],
        via="tablet",
    )


def _quiet_core(site: Site) -> Core:
    """In an ordinary door, and in nobody's order; the last one, since the first are shown off elsewhere."""
    waiting = OrderLine.objects.filter(state=OrderLine.State.OPEN, housing__isnull=False)
    doors = Door.objects.filter(floor__building__site=site, is_egress=False, door_class="ordinary")
    cores = Core.objects.filter(housing__door__in=doors).exclude(housing__in=waiting.values("housing"))
    return cores.order_by("-housing__door__number", "housing__door__floor__building__code")[0]


def _found_empty(smith: User, core: Core) -> dict[str, object]:
    return {
        "event_id": str(uuid4()),
        "sequence": 1,
        "kind": "found",
        "claimed_at": timezone.now().isoformat(),
        "person": str(smith.pk),
        "body": {"housing": str(core.housing_id), "core": ""},
    }
