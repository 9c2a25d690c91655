from django.urls import path

from keyctl.systems import views

app_name = "systems"
urlpatterns = [
    path("", views.system_list, name="list"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("keys/<uuid:pk>/below/", views.children, name="children"),
]
