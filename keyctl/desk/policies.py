"""What the routes of desk ask for."""

from keyctl.keys.policies import ACT, HOLDER
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, DESK, SITE
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
PAUSERS = (Role.KEY_DESK, Role.ADMINISTRATOR)

LINE = Named("desk.TrayLine", ("tray__site",))

POLICIES = {
    "home": Policy.for_roles(reads=DESK),
    "issue": Policy.for_roles(reads=DESK, at=SITE),
    "return": Policy.for_roles(reads=DESK, at=SITE),
    "transfer": Policy.for_roles(reads=DESK, at=SITE),
    "add": Policy.for_roles(writes=DESK, at=SITE),
    "taker": Policy.for_roles(writes=DESK, at=SITE),
    "ready": Policy.for_roles(writes=DESK, at=SITE),
    "found": Policy.for_roles(writes=DESK, at=SITE),
    "undo": Policy.for_roles(writes=DESK, at=SITE),
    "clear": Policy.for_roles(writes=DESK, at=SITE),
    "agree": Policy.for_roles(writes=DESK, at=SITE),
    "finish": Policy.for_roles(writes=DESK, at=SITE),
    "leave-out": Policy.for_roles(writes=DESK, at=LINE),
    "condition": Policy.for_roles(writes=DESK, at=LINE),
    "act": Policy.for_roles(reads=READERS, at=ACT, personal=True),
    "reminders": Policy.for_roles(reads=READERS, at=SITE),
    "rules": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    "pause": Policy.for_roles(reads=PAUSERS, writes=PAUSERS, at=HOLDER),
    "end-pause": Policy.for_roles(writes=PAUSERS, at=HOLDER),
    "feeds": Policy.for_signed_in("GET", "POST"),
    "renew-feed": Policy.for_signed_in("POST", personal=True),
    "end-feed": Policy.for_signed_in("POST", personal=True),
    "feed": Policy.for_all("GET"),
}
