from django.urls import path

from keyctl.maps.views import estate, times

app_name = "maps"
urlpatterns = [
    path("sites/<uuid:pk>/", estate.site, name="site"),
    path("sites/<uuid:pk>/keys/", times.keys_of_site, name="keys-of-site"),
    path("buildings/<uuid:pk>/", estate.building, name="building"),
    path("floors/<uuid:pk>/", estate.floor, name="floor"),
    path("systems/<uuid:pk>/keys/", times.keys_of_system, name="keys-of-system"),
    path("copies/<uuid:pk>/", times.copy, name="copy"),
    path("cores/<uuid:pk>/", times.core, name="core"),
]
