from django.urls import path

from keyctl.directory.views import lists, people

app_name = "directory"
urlpatterns = [
    path("", people.index, name="list"),
    path("new/", people.new, name="new"),
    path("people/<uuid:pk>/", people.detail, name="person"),
    path("people/<uuid:pk>/change/", people.change, name="change"),
    path("people/<uuid:pk>/leave/", people.leave, name="leave"),
    path("people/<uuid:pk>/return/", people.comeback, name="return"),
    path("people/<uuid:pk>/register/", people.register, name="register"),
    path("people/<uuid:pk>/tie/", people.tie, name="tie"),
    path("lists/", lists.index, name="lists"),
    path("lists/bring/", lists.bring, name="bring"),
    path("lists/<uuid:pk>/", lists.detail, name="list-detail"),
    path("lists/<uuid:pk>/columns/", lists.columns, name="columns"),
    path("lists/<uuid:pk>/apply/", lists.apply, name="apply"),
    path("lists/<uuid:pk>/give-up/", lists.give_up, name="give-up"),
    path("lists/<uuid:pk>/missing/", lists.missing, name="missing"),
]
