from django.urls import path

from keyctl.places.views import writing

app_name = "places"
urlpatterns = [
    path("", writing.index, name="list"),
    path("sites/<uuid:pk>/buildings/", writing.new_building, name="new-building"),
    path("buildings/<uuid:pk>/", writing.building, name="building"),
    path("buildings/<uuid:pk>/floors/", writing.new_floor, name="new-floor"),
    path("buildings/<uuid:pk>/doors/", writing.new_door, name="new-door"),
    path("buildings/<uuid:pk>/managers/", writing.new_manager, name="new-manager"),
    path("people/", writing.people, name="people"),
]
