"""What the worker does with lock charts."""

from django.apps import AppConfig


class ChartsConfig(AppConfig):
    name = "keyctl.charts"

    def ready(self) -> None:
        from keyctl.charts.services.work import register_kinds

        register_kinds()
