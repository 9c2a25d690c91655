"""The way back to a list as it was: its own page, with the words that it knows and no others."""

from django.http import QueryDict
from django.urls import reverse

from keyctl.accounts.http import Request
from keyctl.listing.declaring import List
from keyctl.listing.shown import WHOLE

OTHERS = ("sort", "view", "page")


def query_of(request: Request, found: List, *, without_view: bool = False) -> str:
    """Of what was sent: as a field of the form, else as the address of the page says."""
    said = QueryDict(request.POST.get("back", "")[:600]) if "back" in request.POST else request.GET
    return cleaned(said, found, without_view=without_view)


def cleaned(said: QueryDict, found: List, *, without_view: bool = False) -> str:
    kept = QueryDict(mutable=True)
    names = [word.name for word in found.words] + [*OTHERS]
    for name in names:
        word = said.get(name, "")
        if word and not (without_view and name == "view"):
            kept[name] = str(word)[:120]
    return kept.urlencode()


def back_to(request: Request, found: List, *, without_view: bool = False) -> str:
    query = query_of(request, found, without_view=without_view)
    return f"{reverse(found.page)}?{query or f'view={WHOLE}'}"
