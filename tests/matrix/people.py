"""Who asks: one person of each role, and those whose roles are easily mistaken."""

from dataclasses import dataclass, field

from django.conf import settings
from django.test import Client

from keyctl.accounts.models import User
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role
from tests.cast import Cast
from tests.factories import make_user


@dataclass(frozen=True)
class Actor:
    """``here`` are the roles at the site whose records are asked for, ``there`` those at the other one."""

    name: str
    here: frozenset[Role] = field(default=frozenset())
    there: frozenset[Role] = field(default=frozenset())

    @property
    def anywhere(self) -> frozenset[Role]:
        return self.here | self.there


def _one(name: str, role: Role) -> Actor:
    return Actor(name, here=frozenset({role}))


# The fixed cast of the tests, by name.
OF_CAST = (
    _one("locksmith", Role.LOCKSMITH),
    _one("desk", Role.KEY_DESK),
    _one("manager", Role.MANAGER),
    _one("officer", Role.OFFICER),
    _one("auditor", Role.AUDITOR),
    _one("requester", Role.REQUESTER),
    _one("administrator", Role.ADMINISTRATOR),
)
NOBODY = Actor("nobody")
MADE = (
    _one("integration", Role.INTEGRATION),
    Actor("several", here=frozenset({Role.KEY_DESK, Role.AUDITOR})),
    # Signed in as before; the role they had was taken from them since.
    Actor("withdrawn"),
    # The role that would do, at the site where it does not.
    Actor(
        "misplaced",
        here=frozenset({Role.REQUESTER}),
        there=frozenset(set(Role) - {Role.REQUESTER, Role.INTEGRATION}),
    ),
    Actor("both", here=frozenset({Role.ADMINISTRATOR}), there=frozenset({Role.ADMINISTRATOR})),
)
ACTORS = (*OF_CAST, *MADE, NOBODY)
# For each role somebody who has it at the other site alone.
TWINS = tuple(Actor(f"twin-{role.value}", there=frozenset({role})) for role in Role)


def gather_sessions(cast: Cast) -> dict[str, str]:
    """Everybody's session, who signed in once; nobody has none."""
    people = {actor.name: getattr(cast, actor.name) for actor in OF_CAST}
    for actor in (*MADE, *TWINS):
        people[actor.name] = _person(cast, actor)
    sessions = {name: sign_in(user) for name, user in people.items()}
    Membership.objects.filter(user=people["withdrawn"]).delete()
    return sessions


def _person(cast: Cast, actor: Actor) -> User:
    user = make_user(f"x-{actor.name}")
    here = {Role.LOCKSMITH} if actor.name == "withdrawn" else actor.here
    _grant(user, cast.north, here)
    _grant(user, cast.south, actor.there)
    return user


def _grant(user: User, site: Site, roles: frozenset[Role] | set[Role]) -> None:
    Membership.objects.bulk_create(Membership(user=user, site=site, role=role) for role in sorted(roles))


def sign_in(user: User) -> str:
    client = Client()
    client.force_login(user)
    return client.cookies[settings.SESSION_COOKIE_NAME].value
