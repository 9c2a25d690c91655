from typing import Any

from django.urls import URLPattern, URLResolver, include, path, re_path

from keyctl.api.views import docs, tokens, windows
from keyctl.api.views.changes import Changes
from keyctl.api.views.cores import Cores
from keyctl.api.views.doors import Doors, Housings
from keyctl.api.views.events import Events
from keyctl.api.views.holders import Holders
from keyctl.api.views.keys import Cabinets, KeyCopies, Keys, KeySystems
from keyctl.api.views.orders import WorkOrders
from keyctl.api.views.pins import CorePins
from keyctl.api.views.places import Buildings, Floors, Sites, Spaces
from keyctl.api.views.relations import DoorOpeners, HolderDoors, KeyDoors
from keyctl.api.views.requests import KeyRequests
from keyctl.api.views.search import Search
from keyctl.api.views.webhooks import WebhookDeliveries, Webhooks

LIST: dict[str, Any] = {"get": "list"}
DETAIL: dict[str, Any] = {"get": "retrieve"}
KEPT_LIST: dict[str, Any] = {"get": "list", "post": "create"}
KEPT: dict[str, Any] = {"get": "retrieve", "patch": "partial_update"}
REMOVABLE: dict[str, Any] = KEPT | {"delete": "destroy"}
BULK: dict[str, Any] = {"post": "bulk"}

v1 = [
    path("schema/", docs.Description.as_view(), name="schema"),
    path("docs/", docs.Docs.as_view(), name="docs"),
    path("problems/<slug:slug>/", docs.problem, name="problem"),
    path("sites/", Sites.as_view(LIST), name="sites"),
    path("sites/<uuid:pk>/", Sites.as_view(DETAIL), name="site"),
    path("buildings/", Buildings.as_view(KEPT_LIST), name="buildings"),
    path("buildings/<uuid:pk>/", Buildings.as_view(REMOVABLE), name="building"),
    path("floors/", Floors.as_view(KEPT_LIST), name="floors"),
    path("floors/<uuid:pk>/", Floors.as_view(REMOVABLE), name="floor"),
    path("spaces/", Spaces.as_view(KEPT_LIST), name="spaces"),
    path("spaces/bulk/", Spaces.as_view(BULK), name="spaces-bulk"),
    path("spaces/<uuid:pk>/", Spaces.as_view(REMOVABLE), name="space"),
    path("doors/", Doors.as_view(KEPT_LIST), name="doors"),
    path("doors/bulk/", Doors.as_view(BULK), name="doors-bulk"),
    path("doors/<uuid:pk>/", Doors.as_view(REMOVABLE), name="door"),
    path("doors/<uuid:pk>/openers/", DoorOpeners.as_view(LIST), name="openers"),
    path("housings/", Housings.as_view(KEPT_LIST), name="housings"),
    path("housings/bulk/", Housings.as_view(BULK), name="housings-bulk"),
    path("housings/<uuid:pk>/", Housings.as_view(REMOVABLE), name="housing"),
    path("cores/", Cores.as_view(KEPT_LIST), name="cores"),
    path("cores/bulk/", Cores.as_view(BULK), name="cores-bulk"),
    path("cores/<uuid:pk>/", Cores.as_view(KEPT), name="core"),
    path("cores/<uuid:pk>/pinning/", CorePins.as_view({"post": "read"}), name="core-pins"),
    path("cores/<uuid:pk>/pinning/ask/", CorePins.as_view({"post": "ask"}), name="core-pins-ask"),
    path("work-orders/", WorkOrders.as_view({"get": "list", "post": "create"}), name="work-orders"),
    path("work-orders/<uuid:pk>/", WorkOrders.as_view(DETAIL), name="work-order"),
    path("work-orders/<uuid:pk>/cancel/", WorkOrders.as_view({"post": "cancel"}), name="work-order-cancel"),
    path("key-systems/", KeySystems.as_view(LIST), name="key-systems"),
    path("key-systems/<uuid:pk>/", KeySystems.as_view(DETAIL), name="key-system"),
    path("keys/", Keys.as_view(LIST), name="keys"),
    path("keys/<uuid:pk>/", Keys.as_view(DETAIL), name="key"),
    path("keys/<uuid:pk>/doors/", KeyDoors.as_view(LIST), name="key-doors"),
    path("cabinets/", Cabinets.as_view(LIST), name="cabinets"),
    path("cabinets/<uuid:pk>/", Cabinets.as_view(DETAIL), name="cabinet"),
    path("key-copies/", KeyCopies.as_view(KEPT_LIST), name="key-copies"),
    path("key-copies/bulk/", KeyCopies.as_view(BULK), name="key-copies-bulk"),
    path("key-copies/<uuid:pk>/", KeyCopies.as_view(DETAIL), name="key-copy"),
    path("key-copies/<uuid:pk>/hand-out/", KeyCopies.as_view({"post": "hand_out"}), name="key-copy-hand-out"),
    path(
        "key-copies/<uuid:pk>/take-back/", KeyCopies.as_view({"post": "take_back"}), name="key-copy-take-back"
    ),
    path("holders/", Holders.as_view(KEPT_LIST), name="holders"),
    path("holders/bulk/", Holders.as_view(BULK), name="holders-bulk"),
    path("holders/<uuid:pk>/", Holders.as_view(KEPT), name="holder"),
    path("holders/<uuid:pk>/deactivate/", Holders.as_view({"post": "deactivate"}), name="holder-deactivate"),
    path("holders/<uuid:pk>/reactivate/", Holders.as_view({"post": "reactivate"}), name="holder-reactivate"),
    path("holders/<uuid:pk>/doors/", HolderDoors.as_view(LIST), name="holder-doors"),
    path("requests/", KeyRequests.as_view(KEPT_LIST), name="requests"),
    path("requests/<uuid:pk>/", KeyRequests.as_view(DETAIL), name="request"),
    path("requests/<uuid:pk>/withdraw/", KeyRequests.as_view({"post": "withdraw"}), name="request-withdraw"),
    path("changes/", Changes.as_view({"get": "changes"}), name="changes"),
    path("search/", Search.as_view({"get": "search"}), name="search"),
    path("webhooks/", Webhooks.as_view(LIST), name="webhooks"),
    path("webhooks/<uuid:pk>/", Webhooks.as_view(DETAIL), name="webhook"),
    path("webhooks/<uuid:pk>/deliveries/", WebhookDeliveries.as_view(LIST), name="webhook-deliveries"),
    path("events/", Events.as_view(LIST), name="events"),
    path("events/<int:pk>/", Events.as_view(DETAIL), name="event"),
]

app_name = "api"
urlpatterns: list[URLPattern | URLResolver] = [
    path("tokens/", tokens.tokens, name="tokens"),
    path("tokens/<uuid:pk>/revoke/", tokens.revoke, name="revoke-token"),
    path("pins/", windows.tokens_for_pins, name="windows"),
    path("pins/<uuid:pk>/open/", windows.open_for_pins, name="open-window"),
    path("pins/<uuid:pk>/close/", windows.close_for_pins, name="close-window"),
    path("v1/", include(v1)),
    # Last: what nothing above answers is a problem too, not a page.
    re_path("", docs.Nowhere.as_view(), name="nowhere"),
]
