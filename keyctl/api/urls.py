from typing import Any

from django.urls import URLPattern, URLResolver, include, path, re_path

from keyctl.api.views import docs, tokens
from keyctl.api.views.cores import Cores
from keyctl.api.views.orders import WorkOrders
from keyctl.api.views.places import Buildings, Doors, Housings, Sites

LIST: dict[str, Any] = {"get": "list"}
DETAIL: dict[str, Any] = {"get": "retrieve"}

v1 = [
    path("schema/", docs.Description.as_view(), name="schema"),
    path("docs/", docs.Docs.as_view(), name="docs"),
    path("problems/<slug:slug>/", docs.problem, name="problem"),
    path("sites/", Sites.as_view(LIST), name="sites"),
    path("sites/<uuid:pk>/", Sites.as_view(DETAIL), name="site"),
    path("buildings/", Buildings.as_view(LIST), name="buildings"),
    path("buildings/<uuid:pk>/", Buildings.as_view(DETAIL), name="building"),
    path("doors/", Doors.as_view(LIST), name="doors"),
    path("doors/<uuid:pk>/", Doors.as_view(DETAIL), name="door"),
    path("doors/<uuid:pk>/openers/", Doors.as_view({"get": "openers"}), name="openers"),
    path("housings/", Housings.as_view(LIST), name="housings"),
    path("housings/<uuid:pk>/", Housings.as_view(DETAIL), name="housing"),
    path("cores/", Cores.as_view(LIST), name="cores"),
    path("cores/<uuid:pk>/", Cores.as_view(DETAIL), name="core"),
    path("work-orders/", WorkOrders.as_view({"get": "list", "post": "create"}), name="work-orders"),
    path("work-orders/<uuid:pk>/", WorkOrders.as_view(DETAIL), name="work-order"),
]

app_name = "api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("tokens/", tokens.tokens, name="tokens"),
    path("tokens/<uuid:pk>/revoke/", tokens.revoke, name="revoke-token"),
    path("v1/", include(v1)),
    # Last: what nothing above answers is a problem too, not a page.
    re_path("", docs.Nowhere.as_view(), name="nowhere"),
]
