"""The worker sends the mail."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class NoticesConfig(AppConfig):
    name = "keyctl.notices"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.notices.services.clearing import clear_old
        from keyctl.notices.services.sending import send_waiting

        register_routine("notices.send", gettext_lazy("Send mail"), send_waiting, every=timedelta(minutes=1))
        register_routine(
            "notices.clear", gettext_lazy("Throw away old mail"), clear_old, every=timedelta(days=1)
        )
