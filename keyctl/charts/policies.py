"""What the routes of charts ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)

CHART = Named("charts.LockChart")

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "begin": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "example": Policy.for_roles(reads=LOCKSMITH),
    "detail": Policy.for_roles(reads=READERS, at=CHART),
    "draw": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=CHART),
    "table": Policy.for_roles(writes=LOCKSMITH, at=CHART),
    "mark": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=CHART),
    "accept": Policy.for_roles(writes=LOCKSMITH, at=CHART),
    "rules": Policy.for_roles(writes=LOCKSMITH, at=CHART),
    "solve": Policy.for_roles(writes=LOCKSMITH, at=CHART),
    "make": Policy.for_roles(writes=LOCKSMITH, at=CHART),
}
