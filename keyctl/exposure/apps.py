"""Tells the queue, which lies below, how a site's exposure is assessed."""

from django.apps import AppConfig


class ExposureConfig(AppConfig):
    name = "keyctl.exposure"

    def ready(self) -> None:
        from keyctl.exposure.assessing import KIND, assess_site
        from keyctl.jobs.kinds import register_kind

        register_kind(KIND, "Assess how exposed the cores are", assess_site)
