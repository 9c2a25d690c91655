"""How to do the work: guides for those who use keyctl and for those who run it."""

from django.apps import AppConfig


class GuidesConfig(AppConfig):
    name = "keyctl.guides"
