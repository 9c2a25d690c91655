from django.urls import path

from keyctl.webhooks import views

app_name = "webhooks"
urlpatterns = [
    path("", views.webhook_list, name="list"),
    path("new/", views.new, name="new"),
    path("hosts/<uuid:pk>/forget/", views.forget_host, name="forget-host"),
    path("deliveries/<uuid:pk>/replay/", views.replay, name="replay"),
    path("<uuid:pk>/", views.detail, name="detail"),
    path("<uuid:pk>/rotate/", views.rotate, name="rotate"),
    path("<uuid:pk>/on/", views.turn_on, name="turn-on"),
    path("<uuid:pk>/off/", views.turn_off, name="turn-off"),
    path("<uuid:pk>/test/", views.test, name="test"),
]
