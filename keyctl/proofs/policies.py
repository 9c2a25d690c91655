"""What the routes of proofs ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import OFFICER
from keyctl.places.roles import Role

READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
PROVERS = (Role.LOCKSMITH, Role.OFFICER, Role.ADMINISTRATOR)

FINDING = Named("proofs.Finding")
ACCEPTANCE = Named("proofs.Acceptance", ("core__site",))
PROOF = Named(
    "proofs.Proof",
    ("site", "system__sites"),
)

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "prove": Policy.for_roles(writes=PROVERS),
    "detail": Policy.for_roles(reads=READERS, at=PROOF.wider()),
    "accept": Policy.for_roles(reads=OFFICER, writes=OFFICER, at=FINDING),
    "end-acceptance": Policy.for_roles(writes=OFFICER, at=ACCEPTANCE),
}
