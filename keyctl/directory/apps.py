"""Applying a list of people is long work."""

from django.apps import AppConfig


class DirectoryConfig(AppConfig):
    name = "keyctl.directory"

    def ready(self) -> None:
        from keyctl.directory.services.applying import register_kinds

        register_kinds()
