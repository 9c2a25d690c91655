"""What the routes of rotations ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR, Role.INTEGRATION)

ROTATION = Named("rotations.Rotation")
ROUND_CORE = Named("rotations.RotationCore", ("rotation__site",))
ROUND_DOOR = Named("rotations.RotationDoor", ("rotation__site",))
WAVE = Named("rotations.Wave", ("rotation__site",))

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "new": Policy.for_roles(reads=LOCKSMITH),
    "new-keys": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "door": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=ROUND_DOOR),
    "core": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=ROUND_CORE),
    "detail": Policy.for_roles(reads=READERS, at=ROTATION),
    "doors": Policy.for_roles(reads=READERS, at=ROTATION),
    "cores": Policy.for_roles(reads=READERS, writes=LOCKSMITH, at=ROTATION),
    "terms": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=ROTATION),
    "plan": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "accept": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "begin": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "later": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "pause": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "resume": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "finish": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "empty": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
    "cancel": Policy.for_roles(writes=LOCKSMITH, at=ROTATION),
}
