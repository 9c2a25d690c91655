from django.urls import path

from keyctl.cores.views import bulk, chart, core, door, estate, register, symbol

app_name = "cores"
urlpatterns = [
    path("estate/", estate.estate, name="estate"),
    path("estate/doors/<uuid:pk>/", door.door, name="door"),
    path("estate/cores/", estate.core_list, name="list"),
    path("estate/cores/new/", register.register, name="register"),
    path("estate/cores/<uuid:pk>/", core.detail, name="detail"),
    path("estate/cores/<uuid:pk>/pinning/", core.pinning, name="pinning"),
    path("estate/cores/<uuid:pk>/move/", core.move, name="move"),
    path("estate/cores/<uuid:pk>/correct/", core.correct, name="correct"),
    path("systems/<uuid:pk>/cores/", bulk.register, name="bulk"),
    path("systems/<uuid:pk>/cores/pin/", bulk.pin, name="bulk-pin"),
    path("systems/keys/<uuid:pk>/", symbol.symbol, name="symbol"),
    path("systems/keys/<uuid:pk>/chart/", chart.key_chart, name="key-chart"),
    path("estate/buildings/<uuid:pk>/chart/", chart.building_chart, name="building-chart"),
    path("estate/doors/<uuid:pk>/chart/", chart.door_chart, name="door-chart"),
]
