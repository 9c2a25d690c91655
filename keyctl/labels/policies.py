"""What the routes of labels ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import SITE
from keyctl.places.roles import Role

PRINTERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.ADMINISTRATOR)

GRID = Named("labels.LabelGrid")

POLICIES = {
    "sites": Policy.for_roles(reads=PRINTERS),
    "print": Policy.for_roles(reads=PRINTERS, writes=PRINTERS, at=SITE),
    "new-grid": Policy.for_roles(reads=PRINTERS, writes=PRINTERS, at=SITE),
    "grid": Policy.for_roles(reads=PRINTERS, writes=PRINTERS, at=GRID),
}
