from django.urls import path

from keyctl.bench.views import choosing, decode, key, repin, trying

app_name = "bench"
urlpatterns = [
    path("", choosing.home, name="home"),
    path("pins/", decode.decode, name="decode"),
    path("pins/<uuid:pk>/record/", decode.record_found, name="record-found"),
    path("measure/", decode.measure, name="measure"),
    path("key/", key.read_key, name="read-key"),
    path("try/", trying.try_key, name="try"),
    path("repin/", repin.repin_choose, name="repin-choose"),
    path("repin/<uuid:pk>/", repin.repin, name="repin"),
    path("repin/<uuid:pk>/done/", repin.repin_done, name="repin-done"),
]
