"""What every page's frame shows: the sections that the signed-in person's roles open."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from keyctl.places.models import Membership
from keyctl.places.roles import STAFF, Role

EVERYBODY = tuple(Role)

# Label, URL name, the roles that see it.
SECTIONS: tuple[tuple[str, str, Iterable[Role]], ...] = (
    ("Estate", "cores:estate", STAFF),
    ("Systems", "systems:list", STAFF),
    (
        "Proofs",
        "proofs:list",
        (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    ("Exposure", "exposure:estate", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)),
    (
        "Work orders",
        "orders:list",
        (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    ("Bench", "bench:home", (Role.LOCKSMITH,)),
    ("Inherited", "inherited:list", (Role.LOCKSMITH, Role.OFFICER)),
    ("Pin stock", "stock:list", (Role.LOCKSMITH,)),
    (
        "Recovery",
        "recovery:list",
        (Role.LOCKSMITH, Role.OFFICER, Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    ("Keys", "keys:desk", (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
    ("Requests", "approvals:list", EVERYBODY),
    ("Jobs", "jobs:list", STAFF),
    ("Exports", "prints:exports", (Role.OFFICER, Role.AUDITOR)),
    ("Places", "places:list", (Role.ADMINISTRATOR,)),
    ("Integrations", "api:tokens", (Role.ADMINISTRATOR,)),
)


@dataclass(frozen=True)
class Section:
    label: str
    url: str
    is_current: bool


def sections(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"sections": []}
    held = set(Membership.objects.filter(user=user).values_list("role", flat=True))
    return {
        "sections": [_section(request, label, name) for label, name, roles in SECTIONS if held & set(roles)]
    }


def _section(request: HttpRequest, label: str, name: str) -> Section:
    url = reverse(name)
    return Section(label=label, url=url, is_current=request.path.startswith(url))
