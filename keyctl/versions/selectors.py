"""Reading versions of a system, and what differs between two, as far as the reader may see cores."""

from dataclasses import dataclass

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.places.access import visible_sites
from keyctl.systems.models import KeySystem
from keyctl.versions.comparing import Difference, compare
from keyctl.versions.models import SystemVersion
from keyctl.versions.picture import Picture, picture_of, unpacked


@dataclass(frozen=True)
class Comparison:
    before: Picture
    after: Picture
    difference: Difference


def versions_of(system: KeySystem) -> QuerySet[SystemVersion]:
    """Newest first, without what they hold."""
    return SystemVersion.objects.filter(system=system).defer("content").select_related("made_by")


def differences(actor: User, before: SystemVersion, after: SystemVersion | None) -> Comparison:
    """``after`` None is the system as it is now."""
    sites = {str(pk) for pk in visible_sites(actor).values_list("pk", flat=True)}
    old = unpacked(before.content)
    new = picture_of(before.system) if after is None else unpacked(after.content)
    return Comparison(old, new, compare(old, new, sites))
