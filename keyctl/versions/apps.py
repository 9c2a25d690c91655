"""Whoever adds keys to a system, which lies below, has a version of it kept."""

from django.apps import AppConfig


class VersionsConfig(AppConfig):
    name = "keyctl.versions"

    def ready(self) -> None:
        from keyctl.systems.newcomers import add_listener
        from keyctl.versions.services import keep_after_adding

        add_listener(keep_after_adding)
