from django.urls import path

from keyctl.places.views import doors, granting, keeping, sign_ins, writing

app_name = "places"
urlpatterns = [
    path("", writing.index, name="list"),
    path("sites/<uuid:pk>/buildings/", writing.new_building, name="new-building"),
    path("buildings/<uuid:pk>/", writing.building, name="building"),
    path("buildings/<uuid:pk>/floors/", writing.new_floor, name="new-floor"),
    path("buildings/<uuid:pk>/doors/", writing.new_door, name="new-door"),
    path("buildings/<uuid:pk>/managers/", writing.new_manager, name="new-manager"),
    path("buildings/<uuid:pk>/change/", keeping.change_building, name="change-building"),
    path("buildings/<uuid:pk>/remove/", keeping.remove_building, name="remove-building"),
    path("floors/<uuid:pk>/", keeping.floor, name="floor"),
    path("floors/<uuid:pk>/spaces/", keeping.new_space, name="new-space"),
    path("floors/<uuid:pk>/remove/", keeping.remove_floor, name="remove-floor"),
    path("spaces/<uuid:pk>/", keeping.space, name="space"),
    path("spaces/<uuid:pk>/remove/", keeping.remove_space, name="remove-space"),
    path("doors/<uuid:pk>/", doors.door, name="door"),
    path("doors/<uuid:pk>/housings/", doors.new_housing, name="new-housing"),
    path("doors/<uuid:pk>/remove/", doors.remove_door, name="remove-door"),
    path("housings/<uuid:pk>/", doors.housing, name="housing"),
    path("housings/<uuid:pk>/remove/", doors.remove_housing, name="remove-housing"),
    path("sites/", granting.new_site, name="new-site"),
    path("people/", writing.people, name="people"),
    path("people/roles/", granting.give_role, name="give-role"),
    path("people/roles/end/", granting.end_role, name="end-role"),
    path("sign-ins/", sign_ins.index, name="sign-ins"),
    path("sign-ins/reset-factors/", sign_ins.reset_factors, name="reset-factors"),
    path("sign-ins/end-sessions/", sign_ins.end_sessions, name="end-sessions"),
]
