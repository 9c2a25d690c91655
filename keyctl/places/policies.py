"""What the routes of places ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.roles import Role

EVERYBODY = tuple(Role)
LOCKSMITH = (Role.LOCKSMITH,)
DESK = (Role.KEY_DESK,)
OFFICER = (Role.OFFICER,)
AUDITOR = (Role.AUDITOR,)
ADMINISTRATOR = (Role.ADMINISTRATOR,)
MANAGER = (Role.MANAGER,)

BUILDING = Named("places.Building")
DOOR = Named("places.Door", ("floor__building__site",))
HOUSING = Named("places.Housing", ("door__floor__building__site",))
SITE = Named("places.Site", ("pk",))

POLICIES = {
    "list": Policy.for_roles(reads=ADMINISTRATOR),
    "new-building": Policy.for_roles(writes=ADMINISTRATOR, at=SITE),
    "building": Policy.for_roles(reads=ADMINISTRATOR, at=BUILDING),
    "new-floor": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "new-door": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "new-manager": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "people": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "sign-ins": Policy.for_roles(reads=ADMINISTRATOR),
    "reset-factors": Policy.for_roles(writes=ADMINISTRATOR),
    "end-sessions": Policy.for_roles(writes=ADMINISTRATOR),
}

OUTSIDE = {
    "home": Policy.for_signed_in("GET"),
    "design": Policy.for_signed_in("GET"),
    "find-by-tag": Policy.for_signed_in("GET"),
}
