"""What the routes of exports ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.roles import Role

ADMINISTRATOR = (Role.ADMINISTRATOR,)

BUILDING = Named("places.Building")

REGISTER_READERS = (Role.OFFICER, Role.AUDITOR)
# Of one table or another; each says itself whose it is.
TABLE_TAKERS = (
    Role.LOCKSMITH,
    Role.KEY_DESK,
    Role.MANAGER,
    Role.OFFICER,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
)

POLICIES: dict[str, Policy] = {
    "register": Policy.for_roles(reads=REGISTER_READERS),
    "table": Policy.for_roles(writes=TABLE_TAKERS),
    "cobie": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
}
