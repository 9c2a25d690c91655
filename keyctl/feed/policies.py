"""What the routes of the feed of changes ask for."""

from keyctl.lib.policy import Policy

POLICIES: dict[str, Policy] = {}
