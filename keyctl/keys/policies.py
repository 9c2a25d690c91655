"""What the routes of keys ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, DESK, LOCKSMITH, SITE
from keyctl.places.roles import Role
from keyctl.systems.policies import SYMBOL

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
LOSS_REPORTERS = (Role.KEY_DESK, Role.OFFICER)
CUTTERS = (Role.LOCKSMITH, Role.KEY_DESK)
KEEPERS = (Role.KEY_DESK, Role.ADMINISTRATOR)
HOLDER_KEEPERS = (Role.KEY_DESK, Role.ADMINISTRATOR, Role.INTEGRATION)

CABINET = Named("keys.Cabinet")
DEPOSIT = Named("keys.Deposit", ("handover__site",))
ACT = Named("keys.Handover")
HOLDER = Named("keys.Holder")
COPY = Named("keys.KeyCopy")
PERSON = Named("keys.Person", (), is_wider=True)

POLICIES = {
    "desk": Policy.for_roles(reads=READERS),
    "law": Policy.for_roles(reads=READERS),
    "copy": Policy.for_roles(reads=READERS, at=COPY),
    "hand-out": Policy.for_roles(reads=DESK, writes=DESK, at=COPY),
    "take-back": Policy.for_roles(reads=DESK, writes=DESK, at=COPY),
    "transfer": Policy.for_roles(reads=DESK, writes=DESK, at=COPY),
    "found": Policy.for_roles(reads=DESK, writes=DESK, at=COPY),
    "move": Policy.for_roles(reads=DESK, writes=DESK, at=COPY),
    "lost": Policy.for_roles(reads=LOSS_REPORTERS, writes=LOSS_REPORTERS, at=COPY),
    "broken": Policy.for_roles(reads=CUTTERS, writes=CUTTERS, at=COPY),
    "destroy": Policy.for_roles(reads=CUTTERS, writes=CUTTERS, at=COPY),
    "drawing": Policy.for_roles(writes=LOCKSMITH, at=SYMBOL),
    "cut": Policy.for_roles(reads=CUTTERS, writes=CUTTERS, at=SITE),
    "new-holder": Policy.for_roles(reads=DESK, writes=DESK, at=SITE),
    "holder": Policy.for_roles(reads=READERS, at=HOLDER, personal=True),
    "change-holder": Policy.for_roles(reads=HOLDER_KEEPERS, writes=HOLDER_KEEPERS, at=HOLDER),
    "deactivate-holder": Policy.for_roles(reads=HOLDER_KEEPERS, writes=HOLDER_KEEPERS, at=HOLDER),
    "reactivate-holder": Policy.for_roles(reads=HOLDER_KEEPERS, writes=HOLDER_KEEPERS, at=HOLDER),
    "cabinets": Policy.for_roles(reads=READERS),
    "cabinet": Policy.for_roles(reads=READERS, at=CABINET),
    "move-copies": Policy.for_roles(writes=DESK, at=CABINET),
    "rename-cabinet": Policy.for_roles(reads=KEEPERS, writes=KEEPERS, at=CABINET),
    "change-custodian": Policy.for_roles(reads=KEEPERS, writes=KEEPERS, at=CABINET),
    "new-cabinet": Policy.for_roles(reads=KEEPERS, writes=KEEPERS, at=SITE),
    "register": Policy.for_roles(reads=READERS),
    "handover": Policy.for_roles(reads=READERS, at=ACT, personal=True),
    "deposits": Policy.for_roles(reads=READERS),
    "give-back-deposit": Policy.for_roles(writes=DESK, at=DEPOSIT),
    "keep-deposit": Policy.for_roles(reads=DESK, writes=DESK, at=DEPOSIT),
    "rules": Policy.for_roles(reads=ADMINISTRATOR),
    "site-rules": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    "new-terms": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
}
