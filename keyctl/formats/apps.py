"""The shop's own core formats, offered to the engine beside those of the package."""

from django.apps import AppConfig


class FormatsConfig(AppConfig):
    name = "keyctl.formats"

    def ready(self) -> None:
        from keyctl import engine
        from keyctl.formats.source import parameters_of

        engine.add_format_source(parameters_of)
