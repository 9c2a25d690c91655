from django.urls import path

from keyctl.reveals import views

app_name = "reveals"
urlpatterns = [
    path("", views.home, name="home"),
    path("all/", views.register, name="register"),
    path("ask/<slug:kind>/<uuid:pk>/", views.ask, name="ask"),
    path("more/<uuid:pk>/", views.more, name="more"),
    path("limits/<uuid:pk>/", views.limits, name="limits"),
    path("<uuid:pk>/", views.permission, name="permission"),
    path("<uuid:pk>/grant/", views.grant, name="grant"),
    path("<uuid:pk>/decline/", views.decline, name="decline"),
    path("<uuid:pk>/withdraw/", views.withdraw, name="withdraw"),
]
