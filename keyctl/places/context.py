"""What every page's frame shows: the sections that the signed-in person's roles open."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse

from keyctl.places.models import Membership
from keyctl.places.roles import STAFF, Role
from keyctl.vault import services as vault

EVERYBODY = tuple(Role)
DECIDING = (Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)

# Label, URL name, the roles that see it.
Row = tuple[str, str, Iterable[Role]]

SECTIONS: tuple[Row, ...] = (
    ("Estate", "cores:estate", STAFF),
    ("Systems", "systems:list", STAFF),
    (
        "Work orders",
        "orders:list",
        (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    ("At the door", "field:app", (Role.LOCKSMITH,)),
    ("Bench", "bench:home", (Role.LOCKSMITH,)),
    ("Pin stock", "stock:list", (Role.LOCKSMITH,)),
    (
        "Recovery",
        "recovery:list",
        (Role.LOCKSMITH, Role.OFFICER, Role.MANAGER, Role.AUDITOR, Role.ADMINISTRATOR),
    ),
    (
        "Losses",
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
    ("Looks", "reveals:home", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
    ("Desk", "desk:home", (Role.KEY_DESK,)),
    ("Keys", "keys:desk", (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
    ("Requests", "approvals:list", EVERYBODY),
    ("Jobs", "jobs:list", STAFF),
    ("Places", "places:list", (Role.ADMINISTRATOR,)),
    ("Integrations", "api:tokens", (Role.ADMINISTRATOR,)),
)

# What belongs to a section and has pages of its own; shown while one of them is open.
PARTS: dict[str, tuple[Row, ...]] = {
    "Estate": (
        (
            "Temporary cores",
            "interim:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        ("Labels", "labels:sites", (Role.LOCKSMITH, Role.KEY_DESK, Role.ADMINISTRATOR)),
    ),
    "Work orders": (
        (
            "Rotations",
            "rotations:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        # A locksmith has both at the door.
        ("Contradictions", "field:cases", (Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
        ("Tablets", "field:devices", (Role.ADMINISTRATOR,)),
    ),
    "Systems": (
        ("Lock charts", "charts:list", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)),
        ("Inherited", "inherited:list", (Role.LOCKSMITH, Role.OFFICER)),
        (
            "Proofs",
            "proofs:list",
            (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        ("Exposure", "exposure:estate", (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)),
        ("Exports", "prints:exports", (Role.OFFICER, Role.AUDITOR)),
    ),
    "At the door": (
        ("Contradictions", "field:cases", (Role.LOCKSMITH,)),
        ("Tablets", "field:devices", (Role.LOCKSMITH,)),
    ),
    "Keys": (
        *(
            (label, url, (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR))
            for label, url in (
                ("Register", "keys:register"),
                ("Cabinets", "keys:cabinets"),
                ("Deposits", "keys:deposits"),
            )
        ),
        ("Desk rules", "keys:rules", (Role.ADMINISTRATOR,)),
        (
            "Counts",
            "counts:list",
            (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        ("Leavers", "leavers:list", (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
        ("People", "directory:list", (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)),
    ),
    "Requests": (
        ("Decisions", "approvals:decisions", DECIDING),
        (
            "At the desk",
            "approvals:desk",
            (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
        ),
        ("Rules", "approvals:rules", (*DECIDING, Role.AUDITOR)),
        ("Substitutes", "approvals:substitutes", DECIDING),
    ),
    # An administrator has it with the places.
    "Looks": (("Security", "operations:security", (Role.OFFICER, Role.AUDITOR)),),
    "Places": (
        ("Mail", "notices:list", (Role.ADMINISTRATOR,)),
        ("Security", "operations:security", (Role.ADMINISTRATOR,)),
    ),
}


@dataclass(frozen=True)
class Section:
    label: str
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
    url = reverse(name)
    parts = _offered(request, PARTS.get(label, ()), held)
    return Section(label, url, request.path.startswith(url), tuple(parts))
