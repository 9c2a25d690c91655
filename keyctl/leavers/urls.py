from django.urls import path

from keyctl.leavers import views

app_name = "leavers"
urlpatterns = [
    path("", views.index, name="list"),
    path("cases/<uuid:pk>/", views.detail, name="detail"),
    path("cases/<uuid:pk>/remind/", views.remind, name="remind"),
    path("cases/<uuid:pk>/pause/", views.pause, name="pause"),
    path("cases/<uuid:pk>/resume/", views.resume, name="resume"),
    path("cases/<uuid:pk>/close/", views.close, name="close"),
    path("cases/<uuid:pk>/stay/", views.stay, name="stay"),
    path("holders/<uuid:pk>/", views.announce, name="announce"),
    path("sites/<uuid:pk>/rules/", views.rules, name="rules"),
]
