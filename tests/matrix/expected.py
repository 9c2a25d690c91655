"""What each person gets by each method, told by the declared policies alone."""

from collections.abc import Iterator

from keyctl.lib.policy import Policy, Reach, declared, routes
from tests.matrix.exceptions import EXCEPTIONS
from tests.matrix.people import ACTORS, NOBODY, TWINS, Actor
from tests.matrix.rows import FORBIDDEN, HIDDEN, NO_METHOD, SIGN_IN, UNKNOWN, YES, Row

METHODS = ("GET", "POST")


def rows() -> Iterator[Row]:
    """For people; programs have a table of their own."""
    for name, route in routes():
        policy = declared()[name]
        if policy.reach == Reach.SCOPED:
            continue
        asks_twins = bool(route.pattern.converters)
        for method in sorted({*METHODS, *policy.methods}):
            actors = (*ACTORS, *TWINS) if asks_twins else ACTORS
            cells = {actor.name: verdict(policy, method, actor) for actor in actors}
            yield Row(name, method, cells | _excepted(name, method, cells))


def _excepted(name: str, method: str, cells: dict[str, str]) -> dict[str, str]:
    """What a method does not have, nobody is excepted from."""
    said = EXCEPTIONS.get((name, method), {})
    asked = {who: cell for who, cell in said.items() if who in cells}
    return {who: cell for who, cell in asked.items() if who == NOBODY.name or cells[who] != NO_METHOD}


def verdict(policy: Policy, method: str, actor: Actor) -> str:
    if actor is NOBODY and policy.asks_to_sign_in:
        return SIGN_IN
    roles = policy.whose(method)
    if roles is None:
        return NO_METHOD
    if actor is NOBODY and policy.answers_programs:
        return UNKNOWN
    if policy.reach != Reach.ROLES:
        return YES
    return _by_role(policy, roles, actor)


def _by_role(policy: Policy, roles: frozenset[str], actor: Actor) -> str:
    if policy.at is None:
        return YES if actor.anywhere & roles else FORBIDDEN
    if not policy.at.sites:
        return YES if actor.anywhere & roles else HIDDEN
    if not actor.here:
        return HIDDEN
    return YES if actor.here & roles else FORBIDDEN
