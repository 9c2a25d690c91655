from django.urls import path

from keyctl.recovery.views import blanks, cases, keys, readings

app_name = "recovery"
urlpatterns = [
    path("", cases.index, name="list"),
    path("new/", cases.new, name="new"),
    path("cases/<uuid:pk>/", cases.detail, name="detail"),
    path("cases/<uuid:pk>/core/", cases.choose_core, name="choose-core"),
    path("cases/<uuid:pk>/close/", cases.close, name="close"),
    path("cases/<uuid:pk>/cancel/", cases.cancel, name="cancel"),
    path("cases/<uuid:pk>/read/", readings.read, name="read"),
    path("cases/<uuid:pk>/differences/", readings.differences, name="differences"),
    path("readings/<uuid:pk>/set-aside/", readings.set_aside, name="set-aside"),
    path("cases/<uuid:pk>/key/", keys.choose_key, name="choose-key"),
    path("cases/<uuid:pk>/approve/", keys.approve, name="approve"),
    path("cases/<uuid:pk>/show/", keys.show, name="show"),
    path("cases/<uuid:pk>/cut/", keys.cut, name="cut"),
    path("blanks/", blanks.index, name="blanks"),
    path("blanks/<uuid:pk>/", blanks.register, name="blank"),
    path("blanks/<uuid:pk>/receive/", blanks.receive, name="receive"),
    path("blanks/<uuid:pk>/scrap/", blanks.scrap, name="scrap"),
    path("blanks/<uuid:pk>/count/", blanks.count, name="count"),
]
