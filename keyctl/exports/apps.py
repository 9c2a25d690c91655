"""What leaves for other programs."""

from django.apps import AppConfig


class ExportsConfig(AppConfig):
    name = "keyctl.exports"

    def ready(self) -> None:
        from keyctl.exports.taking import register_kinds

        register_kinds()
