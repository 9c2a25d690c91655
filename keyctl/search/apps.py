"""Anything found from anywhere: a door, a room, a tag, a symbol, a serial, a person."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class SearchConfig(AppConfig):
    name = "keyctl.search"

    def ready(self) -> None:
        from keyctl.feed.companions import add_companion
        from keyctl.jobs.routines import register_routine
        from keyctl.search.services import read_what_changed
        from keyctl.search.watching import COMPANION

        add_companion(COMPANION)
        minute = timedelta(minutes=1)
        register_routine(
            "search.read", gettext_lazy("Read what changed for the search"), read_what_changed, every=minute
        )
