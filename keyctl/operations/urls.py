from django.urls import path

from keyctl.operations import views

app_name = "operations"
urlpatterns = [
    path("health/live", views.live, name="live"),
    path("health/ready", views.ready, name="ready"),
    path("metrics", views.figures, name="metrics"),
    path("security/", views.security, name="security"),
    path("security/data/", views.data, name="data"),
    path(".well-known/security.txt", views.contact, name="contact"),
]
