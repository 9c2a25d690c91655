from django.urls import path

from keyctl.places.views import sign_ins, writing

app_name = "places"
urlpatterns = [
    path("", writing.index, name="list"),
    path("sites/<uuid:pk>/buildings/", writing.new_building, name="new-building"),
    path("buildings/<uuid:pk>/", writing.building, name="building"),
    path("buildings/<uuid:pk>/floors/", writing.new_floor, name="new-floor"),
    path("buildings/<uuid:pk>/doors/", writing.new_door, name="new-door"),
    path("buildings/<uuid:pk>/managers/", writing.new_manager, name="new-manager"),
    path("people/", writing.people, name="people"),
    path("sign-ins/", sign_ins.index, name="sign-ins"),
    path("sign-ins/reset-factors/", sign_ins.reset_factors, name="reset-factors"),
    path("sign-ins/end-sessions/", sign_ins.end_sessions, name="end-sessions"),
]
