"""What the worker does with cores."""

from django.apps import AppConfig


class CoresConfig(AppConfig):
    name = "keyctl.cores"

    def ready(self) -> None:
        from keyctl.cores.services.bulk_jobs import register_kinds

        register_kinds()
