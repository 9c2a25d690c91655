"""What whoever runs keyctl watches: whether it lives, whether it is ready, how much it does."""

from django.apps import AppConfig


class OperationsConfig(AppConfig):
    name = "keyctl.operations"
