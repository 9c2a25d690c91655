"""What the routes of directory ask for."""

from keyctl.keys.policies import PERSON
from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR
from keyctl.places.roles import Role

READERS = (Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
KEEPERS = (Role.ADMINISTRATOR, Role.INTEGRATION)
REGISTRARS = (Role.KEY_DESK, Role.ADMINISTRATOR)

LIST = Named("directory.PeopleList", (), is_wider=True)

POLICIES = {
    "list": Policy.for_roles(reads=READERS),
    "new": Policy.for_roles(reads=KEEPERS, writes=KEEPERS),
    "person": Policy.for_roles(reads=READERS, at=PERSON),
    "change": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=PERSON),
    "leave": Policy.for_roles(writes=ADMINISTRATOR, at=PERSON),
    "return": Policy.for_roles(writes=ADMINISTRATOR, at=PERSON),
    "register": Policy.for_roles(writes=REGISTRARS, at=PERSON),
    "tie": Policy.for_roles(writes=ADMINISTRATOR, at=PERSON),
    "lists": Policy.for_roles(reads=KEEPERS),
    "bring": Policy.for_roles(reads=KEEPERS, writes=KEEPERS),
    "list-detail": Policy.for_roles(reads=ADMINISTRATOR, at=LIST),
    "columns": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=LIST),
    "apply": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
    "give-up": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
    "missing": Policy.for_roles(writes=ADMINISTRATOR, at=LIST),
}
