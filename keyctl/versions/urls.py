from django.urls import path

from keyctl.versions import views

app_name = "versions"
urlpatterns = [
    path("<uuid:pk>/versions/", views.version_list, name="list"),
    path("<uuid:pk>/versions/take/", views.take, name="take"),
    path("versions/<uuid:pk>/compare/", views.compare, name="compare"),
]
