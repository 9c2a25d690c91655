"""What the worker prints."""

from django.apps import AppConfig


class PrintsConfig(AppConfig):
    name = "keyctl.prints"

    def ready(self) -> None:
        from keyctl.prints.evidence import register_evidence
        from keyctl.prints.exporting import KIND, find_export, register_kinds
        from keyctl.prints.receipts import register_receipts
        from keyctl.reveals.things import register_kind

        register_kinds()
        register_kind(KIND, find_export)
        register_evidence()
        register_receipts()
