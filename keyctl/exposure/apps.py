"""Tells the queue, which lies below, how a site's exposure is assessed; and the gate what is shown of it."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class ExposureConfig(AppConfig):
    name = "keyctl.exposure"

    def ready(self) -> None:
        from keyctl.exposure.assessing import KIND, assess_site
        from keyctl.exposure.services import NEAR, find_near_keys
        from keyctl.jobs.kinds import register_kind
        from keyctl.reveals import things

        things.register_kind(NEAR, find_near_keys)
        register_kind(KIND, gettext_lazy("Assess how exposed the cores are"), assess_site)
