from django.urls import path

from keyctl.orders.views import cutting, opening, pins, reading, rounds, swapping, working

app_name = "orders"
urlpatterns = [
    path("", reading.order_list, name="list"),
    path("new/pin/", opening.new_pin, name="new-pin"),
    path("new/swap/", opening.new_swap, name="new-swap"),
    path("new/cut/", cutting.new_cut, name="new-cut"),
    path("<uuid:pk>/", reading.detail, name="detail"),
    path("<uuid:pk>/pins/", pins.needed, name="pins-needed"),
    path("<uuid:pk>/pin-all/", working.pin_all, name="pin-all"),
    path("<uuid:pk>/round/", rounds.sheet, name="round"),
    path("<uuid:pk>/cancel/", working.cancel, name="cancel"),
    path("lines/<uuid:pk>/pin/", working.pin, name="pin-line"),
    path("lines/<uuid:pk>/cut/", cutting.cut, name="cut-line"),
    path("lines/<uuid:pk>/swap/", swapping.swap, name="swap"),
]
