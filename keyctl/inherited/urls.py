from django.urls import path

from keyctl.inherited.views import lists, reconstruct

app_name = "inherited"

urlpatterns = [
    path("", lists.index, name="list"),
    path("bring/", lists.bring, name="bring"),
    path("lists/<uuid:pk>/", lists.detail, name="detail"),
    path("lists/<uuid:pk>/columns/", lists.columns, name="columns"),
    path("lists/<uuid:pk>/check/", lists.check, name="check"),
    path("lists/<uuid:pk>/write/", lists.write, name="write"),
    path("lists/<uuid:pk>/give-up/", lists.leave, name="leave"),
    path("reconstruct/", reconstruct.choose, name="choose"),
    path("reconstruct/<uuid:pk>/", reconstruct.ask, name="reconstruct"),
    path("reconstruct/<uuid:pk>/found/", reconstruct.show, name="found"),
    path("reconstruct/<uuid:pk>/make/", reconstruct.make, name="make"),
]
