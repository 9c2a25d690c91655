"""What the worker prints."""

from django.apps import AppConfig


class PrintsConfig(AppConfig):
    name = "keyctl.prints"

    def ready(self) -> None:
        from keyctl.prints.evidence import register_evidence
        from keyctl.prints.exporting import register_kinds

        register_kinds()
        register_evidence()
