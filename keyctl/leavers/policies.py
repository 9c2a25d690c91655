"""What the routes of leavers ask for."""

from keyctl.keys.policies import HOLDER
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, OFFICER, SITE
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
KEEPERS = (Role.KEY_DESK, Role.OFFICER, Role.ADMINISTRATOR)

CASE = Named("leavers.LeaverCase", ("holder__site",))

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "detail": Policy.for_roles(reads=READERS, at=CASE),
    "remind": Policy.for_roles(writes=KEEPERS, at=CASE),
    "pause": Policy.for_roles(writes=KEEPERS, at=CASE),
    "resume": Policy.for_roles(writes=KEEPERS, at=CASE),
    "close": Policy.for_roles(writes=OFFICER, at=CASE),
    "stay": Policy.for_roles(writes=KEEPERS, at=CASE),
    "announce": Policy.for_roles(reads=KEEPERS, writes=KEEPERS, at=HOLDER),
    "rules": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
}
