"""Applying a list of people is long work; a list that was left lying is deleted."""

from datetime import timedelta

from django.apps import AppConfig


class DirectoryConfig(AppConfig):
    name = "keyctl.directory"

    def ready(self) -> None:
        from keyctl.directory.services.applying import register_kinds
        from keyctl.directory.services.lists import clear_left_lists
        from keyctl.jobs.routines import register_routine

        register_kinds()
        register_routine(
            "directory.clear", "Delete lists of people left lying", clear_left_lists, every=timedelta(days=1)
        )
