"""Orders tell the apps below them what pins they will take, which cores were pinned and not tried, and what
they name for somebody who wants to see it."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class OrdersConfig(AppConfig):
    name = "keyctl.orders"

    def ready(self) -> None:
        from keyctl.cores.leaving import add_reason
        from keyctl.jobs.kinds import register_kind
        from keyctl.listing.declaring import register_list
        from keyctl.orders.lists import ORDERS
        from keyctl.orders.naming import named_by_orders
        from keyctl.orders.services.pinning import PIN_ALL, pin_all
        from keyctl.orders.services.trying import why_untried
        from keyctl.orders.shortage import demand_at
        from keyctl.reveals.grounds import add_source
        from keyctl.stock.demand import add_demand_source

        add_demand_source(demand_at)
        add_reason(why_untried)
        add_source(named_by_orders)
        register_list(ORDERS)
        register_kind(PIN_ALL, gettext_lazy("Pin the cores of an order"), pin_all)
