"""What the routes of exposure ask for."""

from keyctl.cores.policies import CORE
from keyctl.lib.policy import Policy
from keyctl.places.policies import SITE
from keyctl.places.roles import Role
from keyctl.systems.policies import SYSTEM

MAY_SEE = (Role.LOCKSMITH, Role.OFFICER, Role.AUDITOR)
MAY_LOOK_CLOSER = (Role.LOCKSMITH, Role.OFFICER)

POLICIES = {
    "estate": Policy.for_roles(reads=MAY_SEE),
    "site": Policy.for_roles(reads=MAY_SEE, at=SITE),
    "assess": Policy.for_roles(writes=MAY_LOOK_CLOSER, at=SITE),
    "cuts": Policy.for_roles(reads=MAY_LOOK_CLOSER, writes=MAY_LOOK_CLOSER, at=SITE),
    "system": Policy.for_roles(reads=MAY_SEE, at=SYSTEM),
    "core": Policy.for_roles(reads=MAY_SEE, at=CORE),
    "near": Policy.for_roles(writes=MAY_LOOK_CLOSER, at=CORE),
}
