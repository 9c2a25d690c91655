"""What the routes of imports ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.roles import Role

TAKERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)

IMPORT = Named("imports.Import")

POLICIES = {
    "list": Policy.for_roles(reads=TAKERS),
    "new": Policy.for_roles(reads=TAKERS),
    "bring": Policy.for_roles(reads=TAKERS, writes=TAKERS),
    "detail": Policy.for_roles(reads=TAKERS, at=IMPORT),
    "report": Policy.for_roles(reads=TAKERS, at=IMPORT),
    "columns": Policy.for_roles(reads=TAKERS, writes=TAKERS, at=IMPORT),
    "try": Policy.for_roles(writes=TAKERS, at=IMPORT),
    "take": Policy.for_roles(writes=TAKERS, at=IMPORT),
    "undo": Policy.for_roles(writes=TAKERS, at=IMPORT),
    "leave": Policy.for_roles(writes=TAKERS, at=IMPORT),
}
