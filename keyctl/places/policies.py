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
# On pages; programs write through their own interface.
DOOR_KEEPERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)

BUILDING = Named("places.Building")
DOOR = Named("places.Door", ("floor__building__site",))
FLOOR = Named("places.Floor", ("building__site",))
SPACE = Named("places.Space", ("floor__building__site",))
HOUSING = Named("places.Housing", ("door__floor__building__site",))
SITE = Named("places.Site", ("pk",))

POLICIES = {
    "list": Policy.for_roles(reads=ADMINISTRATOR),
    "new-building": Policy.for_roles(writes=ADMINISTRATOR, at=SITE),
    "building": Policy.for_roles(reads=ADMINISTRATOR, at=BUILDING),
    "new-floor": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "new-door": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "new-manager": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "change-building": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "remove-building": Policy.for_roles(writes=ADMINISTRATOR, at=BUILDING),
    "floor": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=FLOOR),
    "new-space": Policy.for_roles(writes=ADMINISTRATOR, at=FLOOR),
    "remove-floor": Policy.for_roles(writes=ADMINISTRATOR, at=FLOOR),
    "space": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SPACE),
    "remove-space": Policy.for_roles(writes=ADMINISTRATOR, at=SPACE),
    "door": Policy.for_roles(reads=DOOR_KEEPERS, writes=DOOR_KEEPERS, at=DOOR),
    "new-housing": Policy.for_roles(writes=DOOR_KEEPERS, at=DOOR),
    "remove-door": Policy.for_roles(writes=DOOR_KEEPERS, at=DOOR),
    "housing": Policy.for_roles(reads=DOOR_KEEPERS, writes=DOOR_KEEPERS, at=HOUSING),
    "remove-housing": Policy.for_roles(writes=DOOR_KEEPERS, at=HOUSING),
    "new-site": Policy.for_roles(writes=ADMINISTRATOR),
    "give-role": Policy.for_roles(writes=ADMINISTRATOR),
    "end-role": Policy.for_roles(writes=ADMINISTRATOR),
    "people": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "sign-ins": Policy.for_roles(reads=ADMINISTRATOR),
    "reset-factors": Policy.for_roles(writes=ADMINISTRATOR),
    "end-sessions": Policy.for_roles(writes=ADMINISTRATOR),
}

OUTSIDE = {
    "design": Policy.for_signed_in("GET"),
    "find-by-tag": Policy.for_signed_in("GET"),
}
