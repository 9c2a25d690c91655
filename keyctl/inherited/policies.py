"""What the routes of inherited ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH, SITE
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.OFFICER)

LIST = Named("inherited.BittingList")

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "bring": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "detail": Policy.for_roles(reads=READERS, at=LIST),
    "columns": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=LIST),
    "check": Policy.for_roles(writes=LOCKSMITH, at=LIST),
    "write": Policy.for_roles(writes=LOCKSMITH, at=LIST),
    "leave": Policy.for_roles(writes=LOCKSMITH, at=LIST),
    "choose": Policy.for_roles(reads=READERS),
    "reconstruct": Policy.for_roles(reads=READERS, at=SITE),
    "found": Policy.for_roles(writes=READERS, at=SITE),
    "make": Policy.for_roles(writes=LOCKSMITH, at=SITE),
}
