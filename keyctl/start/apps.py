"""The first page of the day, for each role."""

from django.apps import AppConfig


class StartConfig(AppConfig):
    name = "keyctl.start"
