"""What every page's frame shows: the sections that the signed-in person's roles open."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext_lazy

from keyctl.lib.language import Text
from keyctl.places.models import Membership
from keyctl.places.roles import STAFF, Role
from keyctl.vault import services as vault

EVERYBODY = tuple(Role)
DECIDING = (Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)

# Label, URL name, the roles that see it.
Row = tuple[Text, str, Iterable[Role]]

SECTIONS: tuple[Row, ...] = (
    (gettext_lazy("Today"), "home", EVERYBODY),
    (gettext_lazy("Estate"), "cores:estate", STAFF),
    (gettext_lazy("Systems"), "systems:list", STAFF),
    (
        gettext_lazy("Work orders"),
        "orders:list",
        (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    (gettext_lazy("At the door"), "field:app", (Role.LOCKSMITH,)),
    (gettext_lazy("Bench"), "bench:home", (Role.LOCKSMITH,)),
    (gettext_lazy("Pin stock"), "stock:list", (Role.LOCKSMITH,)),
    (
        gettext_lazy("Recovery"),
        "recovery:list",
        (Role.LOCKSMITH, Role.OFFICER, Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    (
        gettext_lazy("Losses"),
        "losses:list",
        (
            Role.LOCKSMITH,
            Role.KEY_DESK,
            Role.MANAGER,
            Role.OFFICER,
            Role.AUDITOR,
            Role.ADMINISTRATOR,
        ),
    ),
    (gettext_lazy("Looks"), "reveals:home", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
    (gettext_lazy("Desk"), "desk:home", (Role.KEY_DESK,)),
    (
        gettext_lazy("Keys"),
        "keys:desk",
        (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    (gettext_lazy("Requests"), "approvals:list", EVERYBODY),
    (gettext_lazy("Jobs"), "jobs:list", STAFF),
    (gettext_lazy("Places"), "places:list", (Role.ADMINISTRATOR,)),
    (gettext_lazy("Integrations"), "api:tokens", (Role.ADMINISTRATOR,)),
)

# By a section's URL, what belongs to it and has pages of its own; shown while one of them is open.
PARTS: dict[str, tuple[Row, ...]] = {
    "cores:estate": (
        (
            gettext_lazy("Temporary cores"),
            "interim:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (gettext_lazy("Labels"), "labels:sites", (Role.LOCKSMITH, Role.KEY_DESK, Role.ADMINISTRATOR)),
        (gettext_lazy("Imports"), "imports:list", (Role.LOCKSMITH, Role.ADMINISTRATOR)),
    ),
    "orders:list": (
        (
            gettext_lazy("Rotations"),
            "rotations:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        # A locksmith has both at the door.
        (
            gettext_lazy("Contradictions"),
            "field:cases",
            (Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (gettext_lazy("Tablets"), "field:devices", (Role.ADMINISTRATOR,)),
    ),
    "systems:list": (
        (gettext_lazy("Lock charts"), "charts:list", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)),
        (gettext_lazy("Inherited"), "inherited:list", (Role.LOCKSMITH, Role.OFFICER)),
        (
            gettext_lazy("Proofs"),
            "proofs:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (gettext_lazy("Exposure"), "exposure:estate", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)),
        (gettext_lazy("Exports"), "prints:exports", (Role.OFFICER, Role.AUDITOR)),
    ),
    "field:app": (
        (gettext_lazy("Contradictions"), "field:cases", (Role.LOCKSMITH,)),
        (gettext_lazy("Tablets"), "field:devices", (Role.LOCKSMITH,)),
    ),
    "keys:desk": (
        *(
            (label, url, (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR))
            for label, url in (
                (gettext_lazy("Register"), "keys:register"),
                (gettext_lazy("Cabinets"), "keys:cabinets"),
                (gettext_lazy("Deposits"), "keys:deposits"),
            )
        ),
        (gettext_lazy("Desk rules"), "keys:rules", (Role.ADMINISTRATOR,)),
        (
            gettext_lazy("Counts"),
            "counts:list",
            (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (
            gettext_lazy("Leavers"),
            "leavers:list",
            (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (
            gettext_lazy("People"),
            "directory:list",
            (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
    ),
    "approvals:list": (
        (gettext_lazy("Decisions"), "approvals:decisions", DECIDING),
        (
            gettext_lazy("At the desk"),
            "approvals:desk",
            (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        (gettext_lazy("Rules"), "approvals:rules", (*DECIDING, Role.AUDITOR)),
        (gettext_lazy("Substitutes"), "approvals:substitutes", DECIDING),
    ),
    # An administrator has it with the places.
    "reveals:home": ((gettext_lazy("Security"), "operations:security", (Role.OFFICER, Role.AUDITOR)),),
    "places:list": (
        (gettext_lazy("Mail"), "notices:list", (Role.ADMINISTRATOR,)),
        (gettext_lazy("Webhooks"), "webhooks:list", (Role.ADMINISTRATOR,)),
        (gettext_lazy("Security"), "operations:security", (Role.ADMINISTRATOR,)),
    ),
}


@dataclass(frozen=True)
class Section:
    label: Text
    url: str
    is_current: bool
    parts: tuple["Section", ...] = ()

    @property
    def is_open(self) -> bool:
        return self.is_current or any(part.is_current for part in self.parts)


def sections(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"sections": []}
    held = set(Membership.objects.filter(user=user).values_list("role", flat=True))
    # Who only asks for keys has no use for it.
    trouble = vault.why_closed() if held & set(STAFF) else ""
    return {"sections": _offered(request, SECTIONS, held), "vault_trouble": trouble}


def _offered(request: HttpRequest, rows: Iterable[Row], held: set[str]) -> list[Section]:
    return [_section(request, row, held) for row in rows if held & set(row[2])]


def _section(request: HttpRequest, row: Row, held: set[str]) -> Section:
    label, name, _ = row
    url = _address(name)
    parts = _offered(request, PARTS.get(name, ()), held)
    # The first page's address begins every other.
    is_current = request.path == url if name == "home" else request.path.startswith(url)
    return Section(label, url, is_current, tuple(parts))


@cache
def _address(name: str) -> str:
    """Every page asks for all of them."""
    return reverse(name)
