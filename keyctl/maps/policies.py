"""What the routes of the pictures ask for."""

from keyctl.cores.policies import CORE
from keyctl.keys.policies import COPY
from keyctl.lib.policy import Policy
from keyctl.places.policies import BUILDING, FLOOR, SITE
from keyctl.places.roles import STAFF, Role
from keyctl.systems.policies import SYSTEM

MAP_READERS = (
    Role.LOCKSMITH,
    Role.KEY_DESK,
    Role.MANAGER,
    Role.OFFICER,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
)
KEY_READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)

POLICIES = {
    "site": Policy.for_roles(reads=MAP_READERS, at=SITE),
    "building": Policy.for_roles(reads=MAP_READERS, at=BUILDING),
    "floor": Policy.for_roles(reads=MAP_READERS, at=FLOOR),
    "keys-of-site": Policy.for_roles(reads=KEY_READERS, at=SITE),
    "keys-of-system": Policy.for_roles(reads=KEY_READERS, at=SYSTEM),
    "copy": Policy.for_roles(reads=KEY_READERS, at=COPY),
    "core": Policy.for_roles(reads=STAFF, at=CORE),
}
