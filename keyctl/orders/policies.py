"""What the routes of orders ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH, OFFICER
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR, Role.INTEGRATION)
ASSIGNERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)

LINE = Named("orders.OrderLine", ("order__site",))
ORDER = Named("orders.WorkOrder")

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "route": Policy.for_roles(reads=LOCKSMITH),
    "new-pin": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-swap": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-cut": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-rekey": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-decode": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-recover": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-inspect": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "new-lock-out": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "detail": Policy.for_roles(reads=READERS, at=ORDER),
    "start": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "wait": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "go-on": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "assign": Policy.for_roles(writes=ASSIGNERS, at=ORDER),
    "take": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "allow": Policy.for_roles(writes=OFFICER, at=ORDER),
    "until": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "pins-needed": Policy.for_roles(reads=LOCKSMITH, at=ORDER),
    "pin-all": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "round": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=ORDER),
    "cancel": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "bench": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=ORDER),
    "bench-core": Policy.for_roles(reads=LOCKSMITH, at=LINE),
    "bench-pin": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "bench-stacks": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "bench-try": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "bench-let-go": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "pin-line": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "cut-line": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "decoded": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "swap": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=LINE),
    "check": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=LINE),
    "unreached": Policy.for_roles(writes=LOCKSMITH, at=LINE),
    "follow-up": Policy.for_roles(writes=LOCKSMITH, at=LINE),
}
