"""The interface for programs has one routine: answers that were kept are forgotten."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class ApiConfig(AppConfig):
    name = "keyctl.api"

    def ready(self) -> None:
        from keyctl.api.once import forget_answers
        from keyctl.jobs.routines import register_routine

        register_routine(
            "api.answers",
            gettext_lazy("Forget answers kept for programs"),
            forget_answers,
            every=timedelta(hours=6),
        )
