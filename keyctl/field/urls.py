from django.urls import path

from keyctl.field.views import api, cases, devices, handing, photos, shell, words

app_name = "field"
urlpatterns = [
    path("pack/", api.pack, name="pack"),
    path("state/", api.state, name="state"),
    path("events/", api.events, name="events"),
    path("lookup/", api.lookup, name="lookup"),
    path("devices/", devices.devices, name="devices"),
    path("devices/register/", devices.register, name="register"),
    path("devices/<uuid:pk>/", devices.device, name="device"),
    path("devices/<uuid:pk>/rename/", devices.rename, name="rename"),
    path("devices/<uuid:pk>/withdraw/", devices.withdraw, name="withdraw"),
    path("cases/", cases.cases, name="cases"),
    path("cases/<uuid:pk>/", cases.case, name="case"),
    path("cases/<uuid:pk>/settle/", cases.settle, name="settle"),
    path("hand-in/", handing.hand_in, name="hand-in"),
    path("quarantine/", handing.quarantine, name="quarantine"),
    path("quarantine/take-in/", handing.take_in, name="take-in"),
    path("quarantine/set-aside/", handing.set_aside, name="set-aside"),
    path("", shell.shell, name="app"),
    path("sw.js", shell.worker, name="worker"),
    path("words.js", words.words, name="words"),
    path("page-words.json", words.page_words, name="page-words"),
    path("manifest.webmanifest", shell.manifest, name="manifest"),
    path("photos/<uuid:pk>/", photos.photo, name="photo"),
    path("photos/<uuid:pk>/picture/", photos.picture, name="photo-picture"),
    path("doors/<uuid:pk>/photos/", photos.door_photos, name="door-photos"),
    path("orders/<uuid:pk>/photos/", photos.order_photos, name="order-photos"),
]
