"""The worker sees to it that everything is watched, and forgets what is long gone."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class FeedConfig(AppConfig):
    name = "keyctl.feed"

    def ready(self) -> None:
        from keyctl.feed.services import forget_what_is_long_gone, watch_where_nobody_does
        from keyctl.jobs.routines import register_routine

        hour, day = timedelta(hours=1), timedelta(days=1)
        register_routine(
            "feed.watch", gettext_lazy("Watch what changes"), watch_where_nobody_does, every=hour
        )
        register_routine(
            "feed.forget", gettext_lazy("Forget what is long gone"), forget_what_is_long_gone, every=day
        )
