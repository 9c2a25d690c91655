"""What happens to keys below tells the cases above; long work and the nightly look are registered."""

from django.apps import AppConfig


class LossesConfig(AppConfig):
    name = "keyctl.losses"
