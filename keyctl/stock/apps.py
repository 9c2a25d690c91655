"""Bins and their movements agree: looked at every night with all else."""

from django.apps import AppConfig
from django.utils.translation import gettext_noop


class StockConfig(AppConfig):
    name = "keyctl.stock"

    def ready(self) -> None:
        from keyctl.lib.laws import register_law
        from keyctl.stock.law import wrong_bins

        register_law(
            "stock.bins",
            gettext_noop("A bin holds what its movements add up to"),
            wrong_bins,
            gettext_noop("Count the bin (Pin stock): that makes up the difference by a movement of its own."),
        )
