"""What the worker prints."""

from django.apps import AppConfig


class PrintsConfig(AppConfig):
    name = "keyctl.prints"

    def ready(self) -> None:
        from keyctl.prints.lists.exporting import KIND, find_export, register_kinds
        from keyctl.prints.reports.evidence import register_evidence
        from keyctl.prints.reports.receipts import register_receipts
        from keyctl.prints.sheets.large import register_large
        from keyctl.reveals.things import register_kind

        register_kinds()
        register_kind(KIND, find_export)
        register_evidence()
        register_large()
        register_receipts()
