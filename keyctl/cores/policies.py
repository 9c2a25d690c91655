"""What the routes of cores ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import BUILDING, DOOR, LOCKSMITH
from keyctl.places.roles import STAFF
from keyctl.systems.policies import SYMBOL, SYSTEM

CORE = Named("cores.Core")

POLICIES = {
    "estate": Policy.for_roles(reads=STAFF),
    "list": Policy.for_roles(reads=STAFF),
    "door": Policy.for_roles(reads=STAFF, at=DOOR),
    "register": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "detail": Policy.for_roles(reads=STAFF, at=CORE),
    "pinning": Policy.for_roles(writes=LOCKSMITH, at=CORE),
    "move": Policy.for_roles(writes=LOCKSMITH, at=CORE),
    "correct": Policy.for_roles(writes=LOCKSMITH, at=CORE),
    "bulk": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=SYSTEM),
    "bulk-pin": Policy.for_roles(writes=LOCKSMITH, at=SYSTEM),
    "symbol": Policy.for_roles(reads=STAFF, at=SYMBOL),
    "key-chart": Policy.for_roles(reads=STAFF, at=SYMBOL),
    "building-chart": Policy.for_roles(reads=STAFF, at=BUILDING),
    "door-chart": Policy.for_roles(reads=STAFF, at=DOOR),
}
