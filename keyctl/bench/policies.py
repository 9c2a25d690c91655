"""What the routes of bench ask for."""

from keyctl.cores.policies import CORE
from keyctl.lib.policy import Policy
from keyctl.places.policies import LOCKSMITH

POLICIES = {
    "home": Policy.for_roles(reads=LOCKSMITH),
    "decode": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "record-found": Policy.for_roles(writes=LOCKSMITH, at=CORE),
    "measure": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "read-key": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "try": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "repin-choose": Policy.for_roles(reads=LOCKSMITH),
    "repin": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=CORE),
    "repin-done": Policy.for_roles(writes=LOCKSMITH, at=CORE),
}
