"""Pictures of the estate: where which state is, how keys come and go, where a key or a core has been."""

from django.apps import AppConfig


class MapsConfig(AppConfig):
    name = "keyctl.maps"
