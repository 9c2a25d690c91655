"""Guides, for everybody who signs in; those of one's own work stand first."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.guides.shelf import GUIDES, guides_for


@require_GET
def index(request: Request) -> HttpResponse:
    own, others = guides_for(request.user)
    return render(request, "guides/list.html", {"own": own, "others": others})


@require_GET
def guide(request: Request, slug: str) -> HttpResponse:
    found = next((each for each in GUIDES if each.slug == slug), None)
    if found is None:
        raise Http404
    return render(request, "guides/guide.html", {"guide": found})
