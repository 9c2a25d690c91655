"""Lists as a person wants them: columns chosen, views kept, acts on many rows tried before they are done."""

from django.apps import AppConfig


class ListingConfig(AppConfig):
    name = "keyctl.listing"
