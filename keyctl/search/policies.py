"""What the routes of search ask for."""

from keyctl.lib.policy import Policy

POLICIES = {"results": Policy.for_signed_in("GET")}
