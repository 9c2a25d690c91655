"""SCIM over HTTP (RFC 7644): every answer, and every refusal, is a SCIM body."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.csrf import csrf_exempt
from scim2_models import Context, ListResponse, PatchOp, ResponseParameters

from keyctl.accounts.models import User as Account
from keyctl.keys.models import Person as Known
from keyctl.lib.texts import is_text
from keyctl.scim import access, resources, services
from keyctl.scim.bodies import read_body
from keyctl.scim.errors import MEDIA_TYPE, ScimRefusal, refusal_of, respond
from keyctl.scim.filters import question_of
from keyctl.scim.mapping import location_of, user_of
from keyctl.scim.resources import MOST_RESULTS, TOLERANT, USUAL_RESULTS, Person

LARGEST_INDEX = 10**9


@method_decorator([csrf_exempt, login_not_required], name="dispatch")
class ScimView(View):
    """Asks for the token, and turns whatever is refused into a SCIM error."""

    provider: Account

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            self.provider = access.provider_of(request)
            self._refuse_bad_query(request)
            return self._handler(request.method or "")(request, *args, **kwargs)
        except Exception as error:
            refusal = refusal_of(error)
            if refusal is None:
                raise
            return respond(refusal)

    def _handler(self, method: str) -> Callable[..., HttpResponse]:
        """Only what is a method of HTTP: a caller may send any word as one."""
        found: Callable[..., HttpResponse] | None = None
        if method.lower() in self.http_method_names:
            found = getattr(self, method.lower(), None)
        return found or self._not_allowed

    def _not_allowed(self, _request: HttpRequest, *_args: Any, **_kwargs: Any) -> HttpResponse:
        names = [name for name in self.http_method_names if hasattr(self, name) and name != "options"]
        allowed = ", ".join(name.upper() for name in names)
        raise ScimRefusal(405, f"Here works: {allowed}.", headers={"Allow": allowed})

    def _refuse_bad_query(self, request: HttpRequest) -> None:
        for values in request.GET.lists():
            if not all(is_text(text) for text in (values[0], *values[1])):
                raise ScimRefusal(400, "The query holds signs that are no text.", "invalidValue")


class Users(ScimView):
    def get(self, request: HttpRequest) -> HttpResponse:
        return found(request.GET.dict())

    def post(self, request: HttpRequest) -> HttpResponse:
        parameters = parameters_of(request.GET.dict())
        with TOLERANT:
            user = Person.model_validate(read_body(request), scim_ctx=Context.RESOURCE_CREATION_REQUEST)
        person = services.create_user(actor=self.provider, user=user)
        headers = {"Location": location_of(person)}
        return told(person, Context.RESOURCE_CREATION_RESPONSE, parameters, status=201, headers=headers)


class OneUser(ScimView):
    def get(self, request: HttpRequest, pk: str) -> HttpResponse:
        parameters = parameters_of(request.GET.dict())
        person = access.person_at(pk)
        seen = request.headers.get("If-None-Match", "")
        if seen and services.matches(seen, person):
            return HttpResponse(status=304)
        return told(person, Context.RESOURCE_QUERY_RESPONSE, parameters)

    def put(self, request: HttpRequest, pk: str) -> HttpResponse:
        parameters, person = parameters_of(request.GET.dict()), access.person_at(pk)
        with TOLERANT:
            user = Person.model_validate(read_body(request), scim_ctx=Context.RESOURCE_REPLACEMENT_REQUEST)
        expected = request.headers.get("If-Match", "")
        person = services.replace_user(actor=self.provider, person=person, user=user, expected=expected)
        return told(person, Context.RESOURCE_REPLACEMENT_RESPONSE, parameters)

    def patch(self, request: HttpRequest, pk: str) -> HttpResponse:
        parameters, person = parameters_of(request.GET.dict()), access.person_at(pk)
        with TOLERANT:
            patch = PatchOp[Person].model_validate(
                read_body(request), scim_ctx=Context.RESOURCE_PATCH_REQUEST
            )
        expected = request.headers.get("If-Match", "")
        person = services.patch_user(actor=self.provider, person=person, patch=patch, expected=expected)
        return told(person, Context.RESOURCE_PATCH_RESPONSE, parameters)

    def delete(self, request: HttpRequest, pk: str) -> HttpResponse:
        expected = request.headers.get("If-Match", "")
        services.delete_user(actor=self.provider, person=access.person_at(pk), expected=expected)
        return HttpResponse(status=204)


class Search(ScimView):
    """The same questions in a body (RFC 7644, 3.4.3), so that no name stands in an address."""

    def post(self, request: HttpRequest) -> HttpResponse:
        body = read_body(request)
        asked: dict[str, str] = {
            name: str(body[name]) for name in ("filter", "startIndex", "count") if name in body
        }
        for name in ("attributes", "excludedAttributes"):
            if isinstance(body.get(name), list):
                asked[name] = ",".join(str(each) for each in body[name])
        return found(asked)


class Groups(ScimView):
    """There are none: an empty list for who looks, and a clear no for who writes."""

    def get(self, _request: HttpRequest) -> HttpResponse:
        return listed([], 0, 1)

    def _not_allowed(self, _request: HttpRequest, *_args: Any, **_kwargs: Any) -> HttpResponse:
        raise ScimRefusal(501, "Groups are not kept here.")


class Discovery(ScimView):
    """What this service is; not to be filtered (RFC 7644, 4)."""

    def _refuse_bad_query(self, request: HttpRequest) -> None:
        if "filter" in request.GET:
            raise ScimRefusal(403, "This is not filtered: read it whole.")


class Config(Discovery):
    def get(self, _request: HttpRequest) -> HttpResponse:
        return answer(described(resources.config(), "ServiceProviderConfig", "ServiceProviderConfig"))


class ResourceTypes(Discovery):
    def get(self, _request: HttpRequest, pk: str = "") -> HttpResponse:
        body = described(resources.resource_type(), "ResourceType", "ResourceTypes/User")
        if not pk:
            return listed([body], 1, 1)
        if pk != "User":
            raise Http404
        return answer(body)


class Schemas(Discovery):
    def get(self, _request: HttpRequest, pk: str = "") -> HttpResponse:
        bodies = {
            str(schema.id): described(schema, "Schema", f"Schemas/{schema.id}")
            for schema in resources.schemas()
        }
        if not pk:
            return listed(list(bodies.values()), len(bodies), 1)
        if pk not in bodies:
            raise Http404
        return answer(bodies[pk])


class Unsupported(ScimView):
    """Said not to work in the service's own description (RFC 7644, 3.11 and 3.7)."""

    def _not_allowed(self, _request: HttpRequest, *_args: Any, **_kwargs: Any) -> HttpResponse:
        raise ScimRefusal(501, "This service does not do that.")


class Nowhere(ScimView):
    def _not_allowed(self, _request: HttpRequest, *_args: Any, **_kwargs: Any) -> HttpResponse:
        raise Http404


def found(asked: dict[str, str]) -> HttpResponse:
    """A page of people, counted from 1 (RFC 7644, 3.4.2.4)."""
    parameters = parameters_of(asked)
    start = max(1, number(asked, "startIndex", 1))
    count = min(MOST_RESULTS, max(0, number(asked, "count", USUAL_RESULTS)))
    people = access.people()
    if text := asked.get("filter", ""):
        people = people.filter(question_of(text))
    page = people[start - 1 : start - 1 + count] if count else people.none()
    context = Context.RESOURCE_QUERY_RESPONSE
    bodies = [user_of(each).model_dump(scim_ctx=context, response_parameters=parameters) for each in page]
    return listed(bodies, people.count(), start)


def number(asked: dict[str, str], name: str, usual: int) -> int:
    text = asked.get(name, "").strip()
    if not text:
        return usual
    if not text.lstrip("-").isascii() or not text.removeprefix("-").isdigit():
        raise ScimRefusal(400, f"{name} is a whole number.", "invalidValue")
    return max(-1, min(LARGEST_INDEX, int(text[:12])))


def parameters_of(asked: dict[str, str]) -> ResponseParameters[Any] | None:
    wanted = {name: asked[name] for name in ("attributes", "excludedAttributes") if asked.get(name)}
    if not wanted:
        return None
    if any(len(text) > 2000 for text in wanted.values()):
        raise ScimRefusal(400, "That names too many attributes.", "invalidValue")
    with TOLERANT:
        return ResponseParameters[Person].model_validate(wanted)


def told(
    person: Known,
    context: Context,
    parameters: ResponseParameters[Any] | None,
    *,
    status: int = 200,
    headers: dict[str, str] | None = None,
) -> HttpResponse:
    user = user_of(person)
    body = user.model_dump(scim_ctx=context, response_parameters=parameters)
    version = user.meta.version if user.meta else ""
    return answer(body, status=status, headers={"ETag": str(version), **(headers or {})})


def described(thing: Any, kind: str, place: str) -> dict[str, Any]:
    body: dict[str, Any] = thing.model_dump(scim_ctx=Context.RESOURCE_QUERY_RESPONSE)
    return body | {"meta": {"resourceType": kind, "location": f"{resources.base_url()}/{place}"}}


def listed(bodies: list[dict[str, Any]], total: int, start: int) -> HttpResponse:
    head = ListResponse[Person](
        total_results=total, start_index=start, items_per_page=len(bodies), resources=[]
    )
    return answer(head.model_dump() | {"Resources": bodies})


def answer(body: dict[str, Any], *, status: int = 200, headers: dict[str, str] | None = None) -> HttpResponse:
    return JsonResponse(body, status=status, headers=headers, content_type=MEDIA_TYPE)
