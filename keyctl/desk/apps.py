"""The worker reminds people of keys that are due."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class DeskConfig(AppConfig):
    name = "keyctl.desk"

    def ready(self) -> None:
        from keyctl.desk.services.reminding import remind_of_due_keys
        from keyctl.jobs.routines import register_routine

        register_routine(
            "desk.remind", gettext_lazy("Remind of due keys"), remind_of_due_keys, every=timedelta(hours=1)
        )
