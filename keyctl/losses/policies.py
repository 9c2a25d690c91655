"""What the routes of losses ask for."""

from keyctl.keys.policies import COPY
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import OFFICER, SITE
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
REPORTERS = (Role.KEY_DESK, Role.OFFICER)
RULERS = (Role.OFFICER, Role.ADMINISTRATOR)
NOTERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.MANAGER, Role.OFFICER)
RATERS = (Role.LOCKSMITH, Role.OFFICER, Role.ADMINISTRATOR)
WORKERS = (Role.LOCKSMITH, Role.OFFICER)

CASE = Named("losses.LossCase")
PROOF = Named("losses.LossProof", ("case__site",))
REPORT = Named("losses.LossReport", ("copy__site",))
LOST = Named("losses.LostCopy", ("case__site",))
PLAN = Named("losses.RekeyPlan", ("case__site",))

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "limits": Policy.for_roles(reads=READERS),
    "take-up": Policy.for_roles(writes=REPORTERS, at=COPY),
    "rules": Policy.for_roles(reads=READERS),
    "rule": Policy.for_roles(reads=RULERS, writes=RULERS, at=SITE),
    "own": Policy.for_roles(reads=(), writes=(), at=COPY, personal=True),
    "report": Policy.for_roles(reads=REPORTERS, at=REPORT),
    "confirm": Policy.for_roles(writes=REPORTERS, at=REPORT),
    "refuse": Policy.for_roles(writes=REPORTERS, at=REPORT),
    "facts": Policy.for_roles(reads=NOTERS, writes=NOTERS, at=LOST),
    "proof": Policy.for_roles(reads=READERS, at=PROOF.wider()),
    "detail": Policy.for_roles(reads=READERS, at=CASE.wider()),
    "doors": Policy.for_roles(reads=READERS, at=CASE.wider()),
    "holders": Policy.for_roles(reads=READERS, at=CASE.wider()),
    "call": Policy.for_roles(writes=NOTERS, at=CASE),
    "rates": Policy.for_roles(reads=RATERS, writes=RATERS, at=SITE),
    "plans": Policy.for_roles(reads=READERS, at=CASE.wider()),
    "make-plans": Policy.for_roles(writes=WORKERS, at=CASE),
    "choose": Policy.for_roles(writes=OFFICER, at=PLAN),
    "empty-cores": Policy.for_roles(writes=WORKERS, at=CASE),
    "look": Policy.for_roles(writes=READERS, at=CASE),
    "note": Policy.for_roles(writes=NOTERS, at=CASE),
    "join": Policy.for_roles(writes=OFFICER, at=CASE),
    "prove": Policy.for_roles(writes=WORKERS, at=CASE),
    "close": Policy.for_roles(writes=OFFICER, at=CASE),
    "cancel": Policy.for_roles(writes=OFFICER, at=CASE),
    "reopen": Policy.for_roles(writes=OFFICER, at=CASE),
}
