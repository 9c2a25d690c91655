"""Orders tell the pin stock below them what they will take, and cores what was pinned and not tried."""

from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "keyctl.orders"

    def ready(self) -> None:
        from keyctl.cores.leaving import add_reason
        from keyctl.jobs.kinds import register_kind
        from keyctl.orders.services.pinning import PIN_ALL, pin_all
        from keyctl.orders.services.trying import why_untried
        from keyctl.orders.shortage import demand_at
        from keyctl.stock.demand import add_demand_source

        add_demand_source(demand_at)
        add_reason(why_untried)
        register_kind(PIN_ALL, "Pin the cores of an order", pin_all)
