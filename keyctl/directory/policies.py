"""What the routes of directory ask for."""

from keyctl.keys.policies import PERSON
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
REGISTRARS = (Role.KEY_DESK, Role.ADMINISTRATOR)

LIST = Named("directory.PeopleList", (), is_wider=True)

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "new": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "person": Policy.for_roles(reads=READERS, at=PERSON),
    # A person belongs to no site: whoever administers none is told so.
    "change": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "leave": Policy.for_roles(writes=ADMINISTRATOR),
    "return": Policy.for_roles(writes=ADMINISTRATOR),
    "register": Policy.for_roles(writes=REGISTRARS, at=PERSON),
    "tie": Policy.for_roles(writes=ADMINISTRATOR),
    "lists": Policy.for_roles(reads=ADMINISTRATOR),
    "bring": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "list-detail": Policy.for_roles(reads=ADMINISTRATOR, at=LIST),
    "columns": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=LIST),
    "apply": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
    "give-up": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
    "missing": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
}
