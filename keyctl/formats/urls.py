from django.urls import path

from keyctl.formats import views

app_name = "formats"
urlpatterns = [
    path("", views.format_list, name="list"),
    path("new/", views.new, name="new"),
    path("new/check/", views.check, name="check"),
    path("keyways/", views.keyways, name="keyways"),
    path("keyways/<uuid:pk>/remove/", views.remove_keyway, name="remove-keyway"),
    path("<slug:format_id>/", views.detail, name="detail"),
    path("<slug:format_id>/retire/", views.retire, name="retire"),
]
