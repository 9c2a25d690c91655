"""Tells the worker to look every hour which cores have left, and which days come."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class InterimConfig(AppConfig):
    name = "keyctl.interim"

    def ready(self) -> None:
        from keyctl.interim.services import come_round
        from keyctl.jobs.routines import register_routine

        register_routine(
            "interim.days", gettext_lazy("Look after temporary cores"), come_round, every=timedelta(hours=1)
        )
