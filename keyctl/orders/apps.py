"""Open pin orders tell the pin stock, which lies below them, what they will take."""

from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "keyctl.orders"

    def ready(self) -> None:
        from keyctl.jobs.kinds import register_kind
        from keyctl.orders.services.pinning import PIN_ALL, pin_all
        from keyctl.orders.shortage import demand_at
        from keyctl.stock.demand import add_demand_source

        add_demand_source(demand_at)
        register_kind(PIN_ALL, "Pin the cores of an order", pin_all)
