from django.urls import path

from keyctl.operations import views
from keyctl.operations.archive import views as archive

app_name = "operations"
urlpatterns = [
    path("health/live", views.live, name="live"),
    path("health/ready", views.ready, name="ready"),
    path("metrics", views.figures, name="metrics"),
    path("security/", views.security, name="security"),
    path("security/data/", views.data, name="data"),
    path("archive/", archive.archives, name="archive"),
    path("archive/<uuid:pk>/make/", archive.make, name="archive-make"),
    path("archive/<uuid:pk>/fetch/", archive.fetch, name="archive-fetch"),
    path("archive/<uuid:pk>/delete/", archive.delete, name="archive-delete"),
    path(".well-known/security.txt", views.contact, name="contact"),
]
