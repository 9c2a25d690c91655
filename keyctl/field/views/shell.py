"""The field app's frame, service worker and manifest: the same for all who read a language."""

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.field import assets
from keyctl.field.policy import ALLOWS_THE_CAMERA, allows_the_reader
from keyctl.field.views.words import VERSION_HEADER
from keyctl.places.models import Site
from keyctl.places.roles import Role

# Kept like files; made by the server.
MADE = ("field:words", "field:page-words", "field:manifest")


@require_GET
def shell(request: Request) -> HttpResponseBase:
    if not Site.objects.for_roles(request.user, Role.LOCKSMITH).exists():
        return render(request, "field/for_locksmiths.html")
    return _frame(request)


@allows_the_reader
def _frame(_request: HttpRequest) -> HttpResponse:
    version = assets.version()
    return HttpResponse(assets.frame(version), headers={VERSION_HEADER: version, **ALLOWS_THE_CAMERA})


@require_GET
@login_not_required
def worker(_request: HttpRequest) -> HttpResponse:
    """Open to all: a browser asks for it again by itself, whoever is signed in or nobody."""
    facts = {
        "version": assets.version(),
        "header": VERSION_HEADER,
        "shell": reverse("field:app"),
        "kept": [*assets.addresses(assets.kept()), *map(reverse, MADE)],
        "later": assets.addresses(assets.kept_later()),
    }
    script = f"self.FIELD = {json.dumps(facts)};\n{assets.WORKER.read_text()}"
    return HttpResponse(
        script, content_type="text/javascript; charset=utf-8", headers={"Cache-Control": "no-cache"}
    )


@require_GET
@login_not_required
def manifest(_request: HttpRequest) -> HttpResponse:
    """Open to all: browsers ask for it without the sign-in."""
    start = reverse("field:app")
    facts = {
        "id": start,
        "name": _("keyctl in the field"),
        "short_name": _("keyctl field"),
        "description": _(
            "Work orders, doors and swaps for a locksmith at the door, with or without a network."
        ),
        "lang": get_language(),
        "start_url": start,
        "scope": start,
        "display": "standalone",
        "background_color": "#1d2823",
        "theme_color": "#1d2823",
        "icons": [
            _icon("icons/field-192.png", "192x192", "image/png"),
            _icon("icons/field-512.png", "512x512", "image/png"),
            _icon("icons/field.svg", "any", "image/svg+xml"),
            _icon("icons/field-512.png", "512x512", "image/png") | {"purpose": "maskable"},
        ],
    }
    return JsonResponse(facts, content_type="application/manifest+json")


def _icon(name: str, sizes: str, kind: str) -> dict[str, str]:
    return {"src": static(name), "sizes": sizes, "type": kind}
