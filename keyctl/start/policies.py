"""What the route of start asks for: it shows each person what is theirs."""

from keyctl.lib.policy import Policy

OUTSIDE = {"home": Policy.for_signed_in("GET")}
