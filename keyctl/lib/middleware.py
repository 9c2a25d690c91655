"""What happens to every page: a refusal becomes a clear page, and no page stays in a cache."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.cache import add_never_cache_headers, patch_vary_headers

from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.http import CONFLICT, UNPROCESSABLE

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
