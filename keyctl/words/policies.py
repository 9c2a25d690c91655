"""What the routes of words ask for."""

from keyctl.lib.policy import Policy

POLICIES = {"list": Policy.for_signed_in("GET")}
