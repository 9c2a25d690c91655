"""The map of the product."""

from django.urls import include, path

from keyctl.places.views.first import design, find_by_tag
from keyctl.start.views import home

handler400 = "keyctl.lib.arriving.bad_request"
handler429 = "keyctl.accounts.views.limits.limited"
handler500 = "keyctl.operations.views.server_error"

urlpatterns = [
    path("", home, name="home"),
    path("account/", include("keyctl.accounts.urls")),
    path("places/", include("keyctl.places.urls")),
    # Estate pages, and the page of a key beneath its system: each starts with the section it belongs to.
    path("", include("keyctl.cores.urls")),
    path("systems/", include("keyctl.systems.urls")),
    path("exposure/", include("keyctl.exposure.urls")),
    path("inherited/", include("keyctl.inherited.urls")),
    path("systems/", include("keyctl.versions.urls")),
    path("charts/", include("keyctl.charts.urls")),
    path("formats/", include("keyctl.formats.urls")),
    path("proofs/", include("keyctl.proofs.urls")),
    path("stock/", include("keyctl.stock.urls")),
    path("orders/", include("keyctl.orders.urls")),
    path("bench/", include("keyctl.bench.urls")),
    path("recovery/", include("keyctl.recovery.urls")),
    path("keys/", include("keyctl.keys.urls")),
    path("requests/", include("keyctl.approvals.urls")),
    path("losses/", include("keyctl.losses.urls")),
    path("rotations/", include("keyctl.rotations.urls")),
    path("counts/", include("keyctl.counts.urls")),
    path("leavers/", include("keyctl.leavers.urls")),
    path("maps/", include("keyctl.maps.urls")),
    path("directory/", include("keyctl.directory.urls")),
    path("desk/", include("keyctl.desk.urls")),
    path("notices/", include("keyctl.notices.urls")),
    path("reveals/", include("keyctl.reveals.urls")),
    path("jobs/", include("keyctl.jobs.urls")),
    path("lists/", include("keyctl.listing.urls")),
    path("prints/", include("keyctl.prints.urls")),
    path("interim/", include("keyctl.interim.urls")),
    path("labels/", include("keyctl.labels.urls")),
    path("field/", include("keyctl.field.urls")),
    path("exports/", include("keyctl.exports.urls")),
    path("imports/", include("keyctl.imports.urls")),
    path("webhooks/", include("keyctl.webhooks.urls")),
    path("history/", include("keyctl.operations.history.urls")),
    path("", include("keyctl.operations.urls")),
    path("search/", include("keyctl.search.urls")),
    path("api/", include("keyctl.api.urls")),
    path("scim/v2/", include("keyctl.scim.urls")),
    path("guides/", include("keyctl.guides.urls")),
    path("words/", include("keyctl.words.urls")),
    path("design/", design, name="design"),
    # Short and in capitals, so that a small printed code can hold it.
    path("Q/<str:tag>", find_by_tag, name="find-by-tag"),
]
