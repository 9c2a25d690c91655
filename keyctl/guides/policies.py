"""What the routes of guides ask for."""

from keyctl.lib.policy import Policy

POLICIES = {
    "list": Policy.for_signed_in("GET"),
    "guide": Policy.for_signed_in("GET"),
}
