"""What the worker does with lists that are brought in; and the gate's question about a reconstruction."""

from django.apps import AppConfig


class InheritedConfig(AppConfig):
    name = "keyctl.inherited"

    def ready(self) -> None:
        from keyctl.inherited.services.reconstructing import KIND, find_reconstruction
        from keyctl.inherited.services.work import register_kinds
        from keyctl.reveals.things import register_kind

        register_kinds()
        register_kind(KIND, find_reconstruction)
