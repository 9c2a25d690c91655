from django.urls import path

from keyctl.exposure import views

app_name = "exposure"
urlpatterns = [
    path("", views.estate, name="estate"),
    path("sites/<uuid:pk>/", views.site, name="site"),
    path("sites/<uuid:pk>/assess/", views.assess_site, name="assess"),
    path("sites/<uuid:pk>/cuts/", views.cuts, name="cuts"),
    path("systems/<uuid:pk>/", views.system, name="system"),
    path("cores/<uuid:pk>/", views.core, name="core"),
    path("cores/<uuid:pk>/near/", views.near, name="near"),
]
