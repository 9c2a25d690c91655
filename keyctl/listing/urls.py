from django.urls import path

from keyctl.listing.views import bulk, columns, kept

app_name = "listing"
urlpatterns = [
    path("acts/", bulk.index, name="acts"),
    path("acts/<uuid:pk>/", bulk.detail, name="act"),
    path("acts/<uuid:pk>/try/", bulk.try_it, name="try"),
    path("acts/<uuid:pk>/do/", bulk.do_it, name="do"),
    path("acts/<uuid:pk>/undo/", bulk.undo_it, name="undo"),
    path("acts/<uuid:pk>/drop/", bulk.drop_it, name="drop"),
    path("views/<uuid:pk>/", kept.change, name="view"),
    path("views/<uuid:pk>/remove/", kept.remove, name="remove-view"),
    path("views/<uuid:pk>/open-with/", kept.open_with, name="open-with"),
    path("<slug:name>/columns/", columns.columns, name="columns"),
    path("<slug:name>/views/", kept.index, name="views"),
    path("<slug:name>/views/keep/", kept.keep, name="keep-view"),
    path("<slug:name>/views/open-whole/", kept.open_whole, name="open-whole"),
    path("<slug:name>/begin/", bulk.begin, name="begin"),
]
