"""What the routes of formats ask for."""

from keyctl.lib.policy import Policy
from keyctl.places.policies import ADMINISTRATOR
from keyctl.places.roles import STAFF, Role

FITTERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)

POLICIES = {
    "list": Policy.for_roles(reads=STAFF),
    "new": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "check": Policy.for_roles(writes=ADMINISTRATOR),
    "keyways": Policy.for_roles(reads=STAFF, writes=FITTERS),
    "remove-keyway": Policy.for_roles(writes=FITTERS),
    "detail": Policy.for_roles(reads=STAFF),
    "retire": Policy.for_roles(writes=ADMINISTRATOR),
}
