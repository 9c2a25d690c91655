from django.urls import path

from keyctl.field.views import photos, shell

app_name = "field"
urlpatterns = [
    path("", shell.shell, name="app"),
    path("sw.js", shell.worker, name="worker"),
    path("manifest.webmanifest", shell.manifest, name="manifest"),
    path("photos/<uuid:pk>/", photos.photo, name="photo"),
    path("photos/<uuid:pk>/picture/", photos.picture, name="photo-picture"),
    path("doors/<uuid:pk>/photos/", photos.door_photos, name="door-photos"),
    path("orders/<uuid:pk>/photos/", photos.order_photos, name="order-photos"),
]
