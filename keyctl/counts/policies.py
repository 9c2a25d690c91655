"""What the routes of counts ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import OFFICER, SITE
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
COUNTERS = (Role.LOCKSMITH, Role.KEY_DESK)
RULE_SETTERS = (Role.OFFICER, Role.ADMINISTRATOR)
CASE_WORKERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER)

HANDOVER = Named("counts.CabinetHandover", ("cabinet__site",))
COUNT = Named("counts.Count")
CASE = Named("counts.CountCase", ("count__site",))

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "mine": Policy.for_signed_in("GET"),
    "declare": Policy.for_roles(reads=(), writes=(), at=COUNT, personal=True),
    "start": Policy.for_roles(reads=COUNTERS, writes=COUNTERS, at=SITE),
    "rules": Policy.for_roles(reads=READERS, at=SITE),
    "adopt-set": Policy.for_roles(writes=RULE_SETTERS, at=SITE),
    "set-rule": Policy.for_roles(reads=RULE_SETTERS, writes=RULE_SETTERS, at=SITE),
    "end-rule": Policy.for_roles(writes=RULE_SETTERS, at=SITE),
    "detail": Policy.for_roles(reads=READERS, at=COUNT, personal=True),
    "begin": Policy.for_roles(writes=COUNTERS, at=COUNT),
    "scan": Policy.for_roles(reads=COUNTERS, writes=COUNTERS, at=COUNT),
    "undo": Policy.for_roles(writes=COUNTERS, at=COUNT),
    "witness": Policy.for_roles(writes=(), at=COUNT, personal=True),
    "close": Policy.for_roles(writes=COUNTERS, at=COUNT),
    "cancel": Policy.for_roles(writes=COUNTERS, at=COUNT),
    "case": Policy.for_roles(reads=READERS, at=CASE),
    "explain": Policy.for_roles(writes=CASE_WORKERS, at=CASE),
    "close-case": Policy.for_roles(writes=CASE_WORKERS, at=CASE),
    "reopen-case": Policy.for_roles(writes=CASE_WORKERS, at=CASE),
    "handover": Policy.for_roles(reads=READERS, at=HANDOVER, personal=True),
    "sign-handover": Policy.for_roles(writes=(), at=HANDOVER, personal=True),
    "excuse-giver": Policy.for_roles(writes=OFFICER, at=HANDOVER),
}
