from django.urls import path

from keyctl.guides import views

app_name = "guides"
urlpatterns = [
    path("", views.index, name="list"),
    path("<slug:slug>/", views.guide, name="guide"),
]
