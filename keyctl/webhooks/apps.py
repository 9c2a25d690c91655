"""The worker tells other programs."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class WebhooksConfig(AppConfig):
    name = "keyctl.webhooks"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.webhooks.services.resting import clear_old
        from keyctl.webhooks.services.sending import tell_others

        seconds, day = timedelta(seconds=10), timedelta(days=1)
        register_routine("webhooks.send", gettext_lazy("Tell other programs"), tell_others, every=seconds)
        register_routine("webhooks.clear", gettext_lazy("Throw away old deliveries"), clear_old, every=day)
