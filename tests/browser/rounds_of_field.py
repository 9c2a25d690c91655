"""The pages about tablets, with what tablets told: a contradiction, and what came from a lost tablet."""

from collections.abc import Iterator

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.models import ReconcileCase
from keyctl.field.services import withdraw_device
from keyctl.places.models import Site
from keyctl.places.roles import Role
from tests.keyctl.field.fieldroom import tablet_of

Path = tuple[str, str]


def field_paths() -> Iterator[Path]:
    """Last of a round: some cores are disputed from then on."""
    locksmith = User.objects.get(username="locksmith")
    site = Site.objects.for_roles(locksmith, Role.LOCKSMITH)[0]
    held, other = Core.objects.filter(site=site, place="housing").with_places().order_by("tag")[:2]
    tablet, lost = tablet_of(locksmith, site, "Blue case"), tablet_of(locksmith, site, "Old tablet")
    assert held.housing
    assert lost.device
    tablet.send(tablet.found(held.housing, other))
    case = ReconcileCase.objects.get(case_cores__core=other, state="open")
    lost.device = withdraw_device(actor=locksmith, device=lost.device, reason="Left on a train")
    lost.send(lost.put(other, "shelf"))
    assert tablet.device
    yield "tablet", f"/field/devices/{tablet.device.pk}/"
    yield "contradictions", "/field/cases/"
    yield "contradiction", f"/field/cases/{case.pk}/"
    yield "told-by-withdrawn", "/field/quarantine/"
    yield "hand-in", "/field/hand-in/"
