"""What the routes of stock ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import LOCKSMITH, SITE

BIN = Named("stock.PinBin")

POLICIES = {
    "list": Policy.for_roles(reads=LOCKSMITH),
    "site": Policy.for_roles(reads=LOCKSMITH, at=SITE),
    "reorder": Policy.for_roles(reads=LOCKSMITH, at=SITE),
    "add-kit": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=SITE),
    "count": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=SITE),
    "receive": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=SITE),
    "marks": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH, at=SITE),
    "bin": Policy.for_roles(reads=LOCKSMITH, at=BIN),
    "count-bin": Policy.for_roles(writes=LOCKSMITH, at=BIN),
    "move-bin": Policy.for_roles(writes=LOCKSMITH, at=BIN),
    "mark-bin": Policy.for_roles(writes=LOCKSMITH, at=BIN),
}
