from django.urls import path

from keyctl.formats import views

app_name = "formats"
urlpatterns = [
    path("", views.format_list, name="list"),
    path("new/", views.new, name="new"),
    path("new/check/", views.check, name="check"),
    path("<slug:format_id>/", views.detail, name="detail"),
    path("<slug:format_id>/retire/", views.retire, name="retire"),
]
