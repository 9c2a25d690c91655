"""Places tell accounts which roles are trusted with secrets, and hold routes to their policies."""

from django.apps import AppConfig
from django.core.checks import Tags, register


class PlacesConfig(AppConfig):
    name = "keyctl.places"

    def ready(self) -> None:
        from keyctl.accounts.factors import register_rule
        from keyctl.places.access import is_trusted_with_secrets
        from keyctl.places.policing import every_route_has_a_policy

        register_rule(is_trusted_with_secrets)
        register(every_route_has_a_policy, Tags.security)
