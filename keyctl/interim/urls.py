from django.urls import path

from keyctl.interim import views

app_name = "interim"
urlpatterns = [
    path("", views.index, name="list"),
    path("cores/<uuid:pk>/", views.mark, name="mark"),
    path("<uuid:pk>/", views.change, name="change"),
    path("<uuid:pk>/stay/", views.stay, name="stay"),
]
