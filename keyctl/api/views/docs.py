"""The published description, the page that shows it, the kinds of problem, and what is not there."""

from typing import Any, NoReturn

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET
from drf_spectacular.views import SpectacularJSONAPIView, SpectacularSwaggerSplitView
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.views import APIView

from keyctl.api.kinds import KINDS


class Description(SpectacularJSONAPIView):
    """OpenAPI 3.1, readable without a token: it describes the form of answers, not a site."""

    authentication_classes = []
    http_method_names = ["get", "head"]


class Docs(SpectacularSwaggerSplitView):
    authentication_classes = []
    http_method_names = ["get", "head"]
    url_name = "api:schema"
    template_name = "api/docs.html"
    template_name_js = "api/docs.js"


class Nowhere(APIView):
    """Every address below /api/ that leads nowhere, for every method."""

    authentication_classes = []
    permission_classes = []
    schema = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> NoReturn:  # noqa: ARG002
        raise NotFound


@login_not_required
@require_GET
def problem(request: HttpRequest, slug: str) -> HttpResponse:
    if slug not in KINDS:
        raise Http404
    return render(request, "api/problem.html", {"kind": KINDS[slug], "kinds": KINDS.values()})
