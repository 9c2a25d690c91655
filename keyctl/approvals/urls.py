from django.urls import path

from keyctl.approvals import views

app_name = "approvals"
urlpatterns = [
    path("", views.index, name="list"),
    path("ask/", views.ask, name="ask"),
    path("ask/<uuid:pk>/", views.ask_building, name="ask-building"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/approve/", views.approve, name="approve"),
    path("<uuid:pk>/refuse/", views.refuse, name="refuse"),
    path("<uuid:pk>/withdraw/", views.withdraw, name="withdraw"),
    path("grants/<uuid:pk>/hand-out/", views.hand_out, name="hand-out"),
]
