"""What the routes of reveals ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, OFFICER, SITE
from keyctl.places.roles import Role

SEERS = (Role.LOCKSMITH, Role.OFFICER)
READERS = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
VISITORS = (*READERS, Role.LOCKSMITH)

PERMISSION = Named("reveals.Permission")

POLICIES = {
    "home": Policy.for_roles(reads=VISITORS),
    "register": Policy.for_roles(reads=READERS),
    # The address says of what kind the thing is; its site is the view's to find.
    "ask": Policy.for_roles(reads=SEERS, writes=SEERS),
    "more": Policy.for_roles(reads=SEERS, writes=SEERS, at=SITE),
    "limits": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    # Whoever asked reads their own.
    "permission": Policy.for_roles(reads=READERS, at=PERMISSION, personal=True),
    "grant": Policy.for_roles(writes=OFFICER, at=PERMISSION),
    "decline": Policy.for_roles(writes=OFFICER, at=PERMISSION),
    "withdraw": Policy.for_roles(writes=(), at=PERMISSION, personal=True),
}
