from django.urls import path

from keyctl.orders.views import opening, reading, swapping, working

app_name = "orders"
urlpatterns = [
    path("", reading.order_list, name="list"),
    path("new/pin/", opening.new_pin, name="new-pin"),
    path("new/swap/", opening.new_swap, name="new-swap"),
    path("<uuid:pk>/", reading.detail, name="detail"),
    path("<uuid:pk>/cancel/", working.cancel, name="cancel"),
    path("lines/<uuid:pk>/pin/", working.pin, name="pin-line"),
    path("lines/<uuid:pk>/swap/", swapping.swap, name="swap"),
]
