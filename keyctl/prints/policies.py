"""What the routes of prints ask for."""

from keyctl.keys.policies import ACT
from keyctl.lib.policy import Named, Policy
from keyctl.losses.policies import CASE
from keyctl.orders.policies import ORDER
from keyctl.places.policies import LOCKSMITH, SITE
from keyctl.places.roles import Role
from keyctl.rotations.policies import WAVE
from keyctl.systems.policies import SYSTEM

REGISTER_READERS = (Role.OFFICER, Role.AUDITOR)
COUNT_REPORTERS = (Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
BITTING_TAKERS = (Role.LOCKSMITH, Role.OFFICER)
SCHEDULE_TAKERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
LOSS_READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
KEY_READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)

POLICIES = {
    "exports": Policy.for_roles(reads=REGISTER_READERS),
    "make": Policy.for_roles(writes=BITTING_TAKERS, at=Named("prints.Export")),
    "site": Policy.for_roles(reads=SCHEDULE_TAKERS, writes=SCHEDULE_TAKERS, at=SITE),
    "evidence": Policy.for_roles(reads=COUNT_REPORTERS, writes=COUNT_REPORTERS, at=SITE),
    "system": Policy.for_roles(reads=SCHEDULE_TAKERS, writes=SCHEDULE_TAKERS, at=SYSTEM),
    "incident": Policy.for_roles(writes=LOSS_READERS, at=CASE.wider()),
    "wave-sheet": Policy.for_roles(writes=LOCKSMITH, at=WAVE),
    "receipt": Policy.for_roles(writes=KEY_READERS, at=ACT, personal=True),
    "pinning-sheet": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "batch-sheet": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
    "cutting-list": Policy.for_roles(writes=LOCKSMITH, at=ORDER),
}
