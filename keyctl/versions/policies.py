"""What the routes of versions ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.roles import STAFF, Role
from keyctl.systems.policies import SYSTEM

TAKERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)

VERSION = Named("versions.SystemVersion", ("system__sites",))

POLICIES = {
    "list": Policy.for_roles(reads=STAFF, at=SYSTEM),
    "take": Policy.for_roles(writes=TAKERS, at=SYSTEM),
    "compare": Policy.for_roles(reads=STAFF, at=VERSION),
}
