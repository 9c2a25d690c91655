"""The worker signs the history, which lies below it."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class JobsConfig(AppConfig):
    name = "keyctl.jobs"

    def ready(self) -> None:
        from keyctl.audit.checkpoints import sign_when_due
        from keyctl.jobs import many_rows
        from keyctl.jobs.routines import register_routine

        register_routine(
            "history.sign", gettext_lazy("Sign the history"), sign_when_due, every=timedelta(minutes=5)
        )
        many_rows.register()
