"""What the worker does with proofs."""

from django.apps import AppConfig


class ProofsConfig(AppConfig):
    name = "keyctl.proofs"

    def ready(self) -> None:
        from keyctl.proofs.services.proving import register_kinds

        register_kinds()
