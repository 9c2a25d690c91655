"""The fixed cast: one person per role at the north site, and a stranger from the south site."""

from dataclasses import dataclass

from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.places.roles import Role
from tests.factories import make_site, make_user


@dataclass(frozen=True)
class Cast:
    north: Site
    south: Site
    locksmith: User
    desk: User
    manager: User
    officer: User
    auditor: User
    requester: User
    administrator: User
    stranger: User

    @property
    def everybody(self) -> dict[str, User]:
        names = [
            "locksmith",
            "desk",
            "manager",
            "officer",
            "auditor",
            "requester",
            "administrator",
            "stranger",
        ]
        return {name: getattr(self, name) for name in names}


def gather() -> Cast:
    north, south = make_site("NORTH"), make_site("SOUTH")
    return Cast(
        north=north,
        south=south,
        locksmith=make_user("locksmith", site=north, role=Role.LOCKSMITH),
        desk=make_user("desk", site=north, role=Role.KEY_DESK),
        manager=make_user("manager", site=north, role=Role.MANAGER),
        officer=make_user("officer", site=north, role=Role.OFFICER),
        auditor=make_user("auditor", site=north, role=Role.AUDITOR),
        requester=make_user("requester", site=north, role=Role.REQUESTER),
        administrator=make_user("administrator", site=north, role=Role.ADMINISTRATOR),
        stranger=make_user("stranger", site=south, role=Role.LOCKSMITH),
    )
