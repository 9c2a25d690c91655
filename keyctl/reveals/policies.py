"""What the routes of reveals ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, OFFICER, SITE
from keyctl.places.roles import Role

SEERS = (Role.LOCKSMITH, Role.OFFICER)
READERS = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
PERMISSION = Named("reveals.Permission")

POLICIES = {
    "home": Policy.for_roles(reads=(Role.LOCKSMITH, *READERS)),
    "register": Policy.for_roles(reads=READERS),
    "ask": Policy.for_roles(reads=SEERS, writes=SEERS),
    "more": Policy.for_roles(reads=SEERS, writes=SEERS, at=SITE),
    "limits": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    "permission": Policy.for_roles(reads=READERS, at=PERMISSION, personal=True),
    "grant": Policy.for_roles(writes=OFFICER, at=PERMISSION),
    "decline": Policy.for_roles(writes=OFFICER, at=PERMISSION),
    "withdraw": Policy.for_roles(writes=OFFICER, at=PERMISSION, personal=True),
}
