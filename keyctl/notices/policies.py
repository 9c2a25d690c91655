"""What the routes of notices ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, SITE

NOTICE = Named("notices.Notice")

POLICIES = {
    "list": Policy.for_roles(reads=ADMINISTRATOR),
    "detail": Policy.for_roles(reads=ADMINISTRATOR, at=NOTICE),
    "retry": Policy.for_roles(writes=ADMINISTRATOR, at=NOTICE),
    "test": Policy.for_roles(writes=ADMINISTRATOR, at=SITE),
}
