"""Applying a list of people is long work; a list that was left lying is deleted."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class DirectoryConfig(AppConfig):
    name = "keyctl.directory"

    def ready(self) -> None:
        from keyctl.directory.services.applying import register_kinds
        from keyctl.directory.services.lists import clear_left_lists
        from keyctl.jobs.routines import register_routine

        register_kinds()
        register_routine(
            "directory.clear",
            gettext_lazy("Delete lists of people left lying"),
            clear_left_lists,
            every=timedelta(days=1),
        )
