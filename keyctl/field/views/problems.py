"""Addresses that a program calls: they answer in problem details (RFC 9457), and lead nobody elsewhere."""

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponseBase, JsonResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.views.decorators.csrf import csrf_exempt

from keyctl.accounts.http import Request
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.http import problem

View = Callable[..., HttpResponseBase]

SIGN_IN = "Your sign-in has ended. Sign in again; what is not sent yet stays on the tablet."
FORGED = "The request does not carry the token of this sign-in. Load the page again, then send."
NO_ROLE = "Only locksmiths work with this."
NOTHING = "There is nothing here, or it belongs to a site where you do not work."


class Problem(Exception):
    """The request itself cannot be answered."""

    def __init__(self, status: HTTPStatus, detail: str) -> None:
        super().__init__(detail)
        self.status, self.detail = status, detail


def for_programs(view: View) -> View:
    """Ask for sign-in and token here, where the refusal can be told in a form that programs read."""

    @login_not_required
    @csrf_exempt
    @wraps(view)
    def answered(request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.is_authenticated:
            return problem(HTTPStatus.UNAUTHORIZED, SIGN_IN)
        if _is_forged(request):
            return problem(HTTPStatus.FORBIDDEN, FORGED)
        try:
            return view(request, *args, **kwargs)
        except (Problem, Refused, PermissionDenied, Http404) as error:
            return _problem_of(error)

    return answered


def _problem_of(error: Exception) -> JsonResponse:
    if isinstance(error, Problem):
        return problem(error.status, error.detail)
    if isinstance(error, Refused):
        status = HTTPStatus.CONFLICT if isinstance(error, Conflict) else HTTPStatus.UNPROCESSABLE_ENTITY
        return problem(status, " ".join(error.sentences))
    if isinstance(error, PermissionDenied):
        return problem(HTTPStatus.FORBIDDEN, NO_ROLE)
    return problem(HTTPStatus.NOT_FOUND, NOTHING)


class _Check(CsrfViewMiddleware):
    def _reject(self, request: Any, reason: str) -> Any:  # noqa: ARG002 (the framework's signature)
        return reason


def _is_forged(request: Request) -> bool:
    check = _Check(lambda _: None)  # type: ignore[arg-type]
    check.process_request(request)
    return check.process_view(request, None, (), {}) is not None  # type: ignore[arg-type]
