"""What happens to every page: a refusal becomes a clear page, no page stays in a cache, and what no keyboard
types is turned away before anybody looks for it."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import render
from django.utils.cache import add_never_cache_headers, patch_vary_headers
from django.utils.translation import gettext as _

from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.http import CONFLICT, UNPROCESSABLE
from keyctl.lib.texts import is_text

GetResponse = Callable[[HttpRequest], HttpResponseBase]


class AnswerRefusals:
    """A service's refusal that no form caught is told on a page of its own, never as a trace."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        status = CONFLICT if isinstance(exception, Conflict) else UNPROCESSABLE
        return render(request, "refused.html", {"refusal": exception}, status=status)


class RefuseNoText:
    """A NUL is no text: one of the two databases takes none, and an error of it would be ours. Nor is what
    shows a name other than it is.

    Interfaces for programs read their bodies themselves, and refuse in their own form.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], _args: Any, _kwargs: Any
    ) -> HttpResponse | None:
        if getattr(view, "csrf_exempt", False):
            return None
        if not (_holds_no_text(request.GET) or _holds_no_text(request.POST)):
            return None
        refusal = Refused(_("What was sent holds signs that are no text. Type it again."))
        return render(request, "refused.html", {"refusal": refusal}, status=400)


def _holds_no_text(sent: QueryDict) -> bool:
    return not all(is_text(text) for name, texts in sent.lists() for text in (name, *texts))


def keep_pages_private(get_response: GetResponse) -> GetResponse:
    """Pages name doors and keys: nothing between here and the reader, nor the tablet itself, keeps a copy."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        if isinstance(response, HttpResponse):
            patch_vary_headers(response, ["HX-Request"])
            if not response.has_header("Cache-Control"):
                add_never_cache_headers(response)
        return response

    return middleware
