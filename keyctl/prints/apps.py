"""What the worker prints."""

from django.apps import AppConfig


class PrintsConfig(AppConfig):
    name = "keyctl.prints"

    def ready(self) -> None:
        from keyctl.prints.evidence import register_evidence
        from keyctl.prints.exporting import register_kinds
        from keyctl.prints.receipts import register_receipts

        register_kinds()
        register_evidence()
        register_receipts()
