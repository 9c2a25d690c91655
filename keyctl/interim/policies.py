"""What the routes of interim ask for."""

from keyctl.cores.policies import CORE
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)

INTERIM = Named("interim.Interim")

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "mark": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=CORE),
    "change": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=INTERIM),
    "stay": Policy.for_roles(writes=LOCKSMITH, at=INTERIM),
}
