"""Keys lie below leavers: who leaves and what comes back is told here; reminders are a routine."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class LeaversConfig(AppConfig):
    name = "keyctl.leavers"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.keys import departing, returning
        from keyctl.leavers.services import look_after, on_departing, on_returned

        departing.add_listener(on_departing)
        returning.add_listener(on_returned)
        register_routine(
            "leavers.remind",
            gettext_lazy("Remind people who go of their keys"),
            look_after,
            every=timedelta(hours=1),
        )
