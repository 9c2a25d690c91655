"""What each kind of token gets by each method of the interfaces for programs."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from keyctl.api.models import Scope, Token
from keyctl.lib.policy import Policy, Reach, declared, routes
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests.api.client import make_api
from tests.api.estate import told
from tests.cast import Cast
from tests.factories import make_user
from tests.matrix.exceptions import EXCEPTIONS_OF_PROGRAMS
from tests.matrix.rows import FORBIDDEN, HIDDEN, NO_METHOD, UNKNOWN, YES, Row
from tests.scenes.base import Base

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
# Where the tests ask from: a token for pins wants to know.
HERE = "127.0.0.1"
OF_HOLDER = ("", "-doors", "-deactivate", "-reactivate")
OF_API = (Scope.ESTATE_READ, Scope.ORDERS_READ, Scope.ORDERS_WRITE)


@dataclass(frozen=True)
class Program:
    name: str
    scopes: frozenset[str] = field(default=frozenset())
    is_foreign: bool = False
    is_known: bool = True


PROGRAMS = (
    *(Program(scope.value, frozenset({scope})) for scope in Scope),
    Program("of-the-other-site", frozenset(OF_API), is_foreign=True),
    Program("revoked", is_known=False),
    Program("none", is_known=False),
)


def rows() -> Iterator[Row]:
    for name, _ in routes():
        policy = declared()[name]
        if policy.reach == Reach.SCOPED:
            for method in METHODS:
                cells = {program.name: verdict(name, policy, method, program) for program in PROGRAMS}
                yield Row(name, method, cells | EXCEPTIONS_OF_PROGRAMS.get((name, method), {}))


def verdict(name: str, policy: Policy, method: str, program: Program) -> str:
    if name == "api:nowhere":
        return HIDDEN
    if not program.is_known:
        return UNKNOWN
    # What SCIM has is for tokens of people; others learn nothing of what is there.
    if name.startswith("scim:") and Scope.PEOPLE not in program.scopes:
        return FORBIDDEN
    if name == "scim:nowhere":
        return HIDDEN
    return _by_scope(policy, method, program)


def _by_scope(policy: Policy, method: str, program: Program) -> str:
    scopes = policy.whose(method)
    if scopes is None:
        return NO_METHOD
    if scopes and not scopes & program.scopes:
        return FORBIDDEN
    return HIDDEN if program.is_foreign and policy.at else YES


def gather_bearers(cast: Cast) -> dict[str, str]:
    """The credential of every kind of token."""
    keeper, southerner = make_user("x-keeper"), make_user("x-southerner")
    for user, site in ((keeper, cast.north), (keeper, cast.south), (southerner, cast.south)):
        Membership.objects.create(user=user, site=site, role=Role.ADMINISTRATOR)
    found = {}
    for scope in Scope:
        sites = [cast.north, cast.south] if scope == Scope.PEOPLE else [cast.north]
        networks = HERE if scope == Scope.PINNING_READ else ""
        found[scope.value] = make_api(keeper, *sites, scopes=[scope], networks=networks).bearer or ""
    found["of-the-other-site"] = make_api(southerner, cast.south, scopes=list(OF_API)).bearer or ""
    found["revoked"] = make_api(keeper, cast.north, scopes=list(OF_API)).bearer or ""
    Token.objects.filter(prefix=found["revoked"].split("_")[1]).update(revoked_at="2026-01-01T00:00Z")
    return found


def objects(base: Base, named: dict[str, Any]) -> dict[str, Any]:
    door = base.housing.door
    return {
        "api:site": base.cast.north.pk,
        "api:building": door.building.pk,
        "api:floor": door.floor.pk,
        "api:space": named["places:space"],
        "api:door": door.pk,
        "api:openers": door.pk,
        "api:housing": base.housing.pk,
        "api:core": base.core.pk,
        "api:work-order": named["orders:detail"],
        "api:work-order-cancel": named["orders:detail"],
        **dict.fromkeys(["api:core-pins", "api:core-pins-ask"], base.core.pk),
        "api:key-system": named["systems:detail"],
        **dict.fromkeys(["api:key", "api:key-doors"], base.change.pk),
        "api:cabinet": base.cabinet.pk,
        **dict.fromkeys([f"api:key-copy{act}" for act in ("", "-hand-out", "-take-back")], base.copy.pk),
        **dict.fromkeys([f"api:holder{part}" for part in OF_HOLDER], base.holder.pk),
        **dict.fromkeys(["api:request", "api:request-withdraw"], named["approvals:detail"]),
        **dict.fromkeys(["api:webhook", "api:webhook-deliveries"], named["webhooks:detail"]),
        "api:event": told().pk,
        "scim:resource-type": "User",
        "scim:schema": "urn:ietf:params:scim:schemas:core:2.0:User",
        "scim:user": named["directory:person"],
    }
