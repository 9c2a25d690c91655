"""What every route declares: by which methods it is asked, who may ask, and what its address names.

A route without a policy is never served. The rule here is coarse, and stands before the view; ``access.py``
and the services stay the fine rule behind it.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from typing import Self

from django.apps import apps
from django.urls import URLPattern, URLResolver, get_resolver

OURS = "keyctl."


class Reach(Enum):
    ALL = "all"  # nobody need sign in
    SIGNED_IN = "signed-in"
    ROLES = "roles"
    SCOPED = "scoped"  # programs prove themselves; a scope stands for each method


@dataclass(frozen=True)
class Named:
    """The record that an address names, and the ways from it to the sites it belongs to."""

    model: str
    sites: tuple[str, ...] = ("site",)
    # Other sites may reach it too, by a rule that only the view knows.
    is_wider: bool = False
    parameter: str = "pk"

    def wider(self) -> "Named":
        return Named(self.model, self.sites, is_wider=True, parameter=self.parameter)


@dataclass(frozen=True)
class Policy:
    """``methods`` says for each method whose it is: roles, or for programs scopes."""

    reach: Reach
    methods: Mapping[str, frozenset[str]] = field(default_factory=dict)
    at: Named | None = None
    # Whoever the record itself names may ask too, whatever their roles: the view tells.
    is_personal: bool = False
    # The view tells nobody to sign in, but answers in a form that programs read.
    answers_programs: bool = False

    @classmethod
    def for_roles(
        cls,
        *,
        reads: Iterable[str] | None = None,
        writes: Iterable[str] | None = None,
        puts: Iterable[str] | None = None,
        at: Named | None = None,
        personal: bool = False,
        programs: bool = False,
    ) -> Self:
        """``None`` where the route has no such method; nothing but the named person's where it is empty."""
        asked = {"GET": reads, "POST": writes, "PUT": puts}
        methods = {method: frozenset(roles) for method, roles in asked.items() if roles is not None}
        return cls(Reach.ROLES, methods, at, personal, programs)

    @classmethod
    def for_signed_in(cls, *methods: str, personal: bool = False, programs: bool = False) -> Self:
        """What is everybody's own, or shows each person what is theirs."""
        asked = {method: frozenset[str]() for method in methods}
        return cls(Reach.SIGNED_IN, asked, None, personal, programs)

    @classmethod
    def for_all(cls, *methods: str) -> Self:
        return cls(Reach.ALL, {method: frozenset() for method in methods})

    @classmethod
    def for_tokens(cls, at: Named | None = None, **scopes: str) -> Self:
        """A scope by method; an empty one where any token does."""
        return cls(Reach.SCOPED, {method: frozenset({scope} - {""}) for method, scope in scopes.items()}, at)

    @property
    def asks_to_sign_in(self) -> bool:
        return self.reach in {Reach.SIGNED_IN, Reach.ROLES} and not self.answers_programs

    def whose(self, method: str) -> frozenset[str] | None:
        """The roles or scopes of a method; none where the route does not have it."""
        return self.methods.get("GET" if method == "HEAD" else method)


@cache
def declared() -> dict[str, Policy]:
    """Every policy by the full name of its route: ``POLICIES`` of an app in its own namespace,
    ``OUTSIDE`` for routes that have none."""
    found: dict[str, Policy] = {}
    for config in apps.get_app_configs():
        module = f"{config.name}.policies"
        if config.name.startswith(OURS) and find_spec(module):
            stated = import_module(module)
            own: dict[str, Policy] = getattr(stated, "POLICIES", {})
            found |= {f"{config.label}:{name}": policy for name, policy in own.items()}
            found |= getattr(stated, "OUTSIDE", {})
    return found


def routes() -> Iterator[tuple[str, URLPattern]]:
    """Every route of the product, by its full name."""
    yield from _routes(get_resolver().url_patterns, "")


def _routes(patterns: Iterable[URLPattern | URLResolver], space: str) -> Iterator[tuple[str, URLPattern]]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _routes(pattern.url_patterns, space + inner)
        else:
            yield f"{space}{pattern.name or ''}", pattern


def unsound_routes() -> Iterator[str]:
    """A sentence for each route without a policy, each policy without a route, and where the two differ."""
    policies, known = declared(), dict(routes())
    for name in sorted(known.keys() - policies.keys()):
        yield f"The route {name} declares no policy. Add one to policies.py of its app."
    for name in sorted(policies.keys() - known.keys()):
        yield f"The policy {name} belongs to no route. Take it out, or name it as the route is named."
    for name in sorted(known.keys() & policies.keys()):
        yield from _differences(name, known[name], policies[name])


def _differences(name: str, route: URLPattern, policy: Policy) -> Iterator[str]:
    asks = getattr(route.callback, "login_required", True)
    if asks != policy.asks_to_sign_in:
        said = "asks for no sign-in" if policy.asks_to_sign_in else "asks for a sign-in"
        yield f"The view of {name} {said}, its policy says otherwise."
    if policy.at and policy.at.parameter not in route.pattern.converters:
        yield f"The policy {name} names a record by {policy.at.parameter}, which its address does not have."
