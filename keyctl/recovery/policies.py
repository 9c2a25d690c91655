"""What the routes of recovery ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH, OFFICER
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)

BLANK = Named("recovery.ControlBlank")
CASE = Named("recovery.ControlKeyCase")
READING = Named("recovery.CoreReading", ("case__site",))

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "new": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "detail": Policy.for_roles(reads=READERS, at=CASE),
    "choose-core": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "close": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "cancel": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "read": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=CASE),
    "differences": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "set-aside": Policy.for_roles(writes=LOCKSMITH, at=READING),
    "choose-key": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "approve": Policy.for_roles(writes=OFFICER, at=CASE),
    "show": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "cut": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "blanks": Policy.for_roles(reads=READERS, writes=LOCKSMITH),
    "blank": Policy.for_roles(reads=READERS, at=BLANK),
    "receive": Policy.for_roles(writes=LOCKSMITH, at=BLANK),
    "scrap": Policy.for_roles(writes=LOCKSMITH, at=BLANK),
    "count": Policy.for_roles(writes=LOCKSMITH, at=BLANK),
}
