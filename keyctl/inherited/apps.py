"""What the worker does with lists that are brought in."""

from django.apps import AppConfig


class InheritedConfig(AppConfig):
    name = "keyctl.inherited"

    def ready(self) -> None:
        from keyctl.inherited.services.work import register_kinds

        register_kinds()
