"""The coarse rule before every view: nobody is served what no role of theirs at its site opens.

A method that the route does not have is 405; a record of no site of theirs is not found; a role that does
not suffice is forbidden. A route that declares no policy is an error, wherever it runs.
"""

from collections.abc import Callable
from functools import cache, reduce
from operator import or_
from typing import Any

from django.apps import apps
from django.contrib.auth.views import redirect_to_login
from django.core.checks import CheckMessage, Error
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed
from django.utils.translation import gettext as _

from keyctl.lib.policy import Named, Policy, Reach, declared, unsound_routes
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.models import Membership, Site

GetResponse = Callable[[HttpRequest], HttpResponseBase]

# No row has a larger one, and no database takes one.
LARGEST_NUMBER = 2**63 - 1


class UndeclaredRoute(Exception):
    """Somebody added a page and forgot to say who may see it. It is served to nobody."""


class EnforcePolicies:
    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, _view: Callable[..., Any], _args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        name = request.resolver_match.view_name if request.resolver_match else ""
        policy = declared().get(name)
        if policy is None:
            raise UndeclaredRoute(_("The route {name} declares no policy.").format(name=name))
        return enforce(policy, request, kwargs) if policy.asks_to_sign_in else None


def enforce(policy: Policy, request: HttpRequest, kwargs: dict[str, Any]) -> HttpResponse | None:
    roles = policy.whose(request.method or "")
    if roles is None:
        return HttpResponseNotAllowed(sorted(policy.methods))
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    if policy.reach == Reach.ROLES and not policy.is_personal:
        require(request.user.pk, roles, policy.at, kwargs)
    return None


def require(user_id: Any, roles: frozenset[str], at: Named | None, kwargs: dict[str, Any]) -> None:
    """404 for a stranger to the record's sites, 403 for a member whose role there does not suffice."""
    if at is None:
        _refuse_unless(roles.intersection(_ANYWHERE.rows(user=user_id)), PermissionDenied)
        return
    here = _roles_at(at, user_id, kwargs[at.parameter])
    if here & roles:
        return
    somewhere = at.is_wider and roles.intersection(_ANYWHERE.rows(user=user_id))
    _refuse_unless(somewhere, PermissionDenied if here else Http404)


def _roles_at(named: Named, user_id: Any, value: Any) -> set[str]:
    key: Any = apps.get_model(named.model)._meta.pk
    told = key.to_python(value)
    if not named.sites or (isinstance(told, int) and told > LARGEST_NUMBER):
        return set()
    return set(_at(named).rows(user=user_id, record=told))


@cache
def _at(named: Named) -> Prepared[Membership, str]:
    return Prepared(lambda: _roles(site__in=_sites_of(named, Slot("record"))))


def _roles(**where: Any) -> QuerySet[Membership, str]:
    return Membership.objects.filter(user=Slot("user"), **where).order_by().values_list("role", flat=True)


_ANYWHERE = Prepared(_roles)


def _refuse_unless(suffices: object, refusal: type[Exception]) -> None:
    if not suffices:
        raise refusal


def _sites_of(named: Named, value: Any) -> QuerySet[Site]:
    records = apps.get_model(named.model)._default_manager.filter(pk=value)
    return Site.objects.filter(reduce(or_, (Q(pk__in=records.values(path)) for path in named.sites)))


def every_route_has_a_policy(**_facts: Any) -> list[CheckMessage]:
    return [Error(sentence, id="keyctl.E001") for sentence in unsound_routes()]
