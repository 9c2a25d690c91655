"""One page, and what the field in the spine shows while somebody types."""

import re
from typing import Final

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.search.telling import Told, answer

WHILE_TYPING: Final = 10
FIELD: Final = "spine-hits"
# A tag or a serial: whoever types or scans all of it wants what carries it.
CODE_KINDS: Final = {"core", "key-copy", "door", "cabinet"}
SHORTEST_CODE: Final = 12
SCANNED: Final = re.compile(r"https?://\S+/Q/(\S+)", re.IGNORECASE)


@require_GET
def results(request: Request) -> HttpResponse:
    typed = request.GET.get("q", "").strip()
    # A scanner types the whole address on a label.
    if scanned := SCANNED.fullmatch(typed):
        typed = scanned[1]
    if request.htmx and request.htmx.target == FIELD:
        found = answer(request.user, typed, WHILE_TYPING)
        return render(request, "search/results.html#typing", {"answer": found})
    found = answer(request.user, typed)
    if not request.htmx and (only := found.only) and _is_code(only, typed):
        return redirect(only.url)
    template = "search/results.html#found" if request.htmx else "search/results.html"
    return render(request, template, {"answer": found, "searched_for": typed})


def _is_code(only: Told, typed: str) -> bool:
    return only.kind in CODE_KINDS and sum(sign.isalnum() for sign in typed) >= SHORTEST_CODE
