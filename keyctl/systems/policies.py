"""What the routes of systems ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.roles import STAFF, Role

DESIGNERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)

SYMBOL = Named("systems.KeySymbol", ("system__sites",))
SYSTEM = Named("systems.KeySystem", ("sites",))
DRAFT = Named("systems.SystemDraft", ("sites",))

POLICIES = {
    "list": Policy.for_roles(reads=STAFF),
    "draft-new": Policy.for_roles(reads=DESIGNERS, writes=DESIGNERS),
    "draft": Policy.for_roles(reads=DESIGNERS, at=DRAFT),
    "draft-change": Policy.for_roles(reads=DESIGNERS, writes=DESIGNERS, at=DRAFT),
    "draft-discard": Policy.for_roles(writes=DESIGNERS, at=DRAFT),
    "draft-make": Policy.for_roles(writes=DESIGNERS, at=DRAFT),
    "detail": Policy.for_roles(reads=STAFF, at=SYSTEM),
    "capacity": Policy.for_roles(reads=STAFF, at=SYSTEM),
    "children": Policy.for_roles(reads=STAFF, at=SYMBOL),
    "extend": Policy.for_roles(reads=DESIGNERS, writes=DESIGNERS, at=SYMBOL),
}
