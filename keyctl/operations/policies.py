"""What the routes of operations and of history ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.operations.posture.access import READERS as READERS_OF_POSTURE
from keyctl.places.policies import ADMINISTRATOR
from keyctl.places.roles import STAFF

# An event of no site is told to whoever answers for one as a whole: the view knows.
EVENT = Named("audit.Event", ("site_id",), is_wider=True)

POLICIES = {
    "archive": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "archive-make": Policy.for_roles(writes=ADMINISTRATOR),
    "archive-fetch": Policy.for_roles(writes=ADMINISTRATOR),
    "archive-delete": Policy.for_roles(writes=ADMINISTRATOR),
    "live": Policy.for_all("GET"),
    "ready": Policy.for_all("GET"),
    "metrics": Policy.for_all("GET"),
    "contact": Policy.for_all("GET"),
    "security": Policy.for_roles(reads=READERS_OF_POSTURE),
    "data": Policy.for_roles(reads=READERS_OF_POSTURE),
}

OUTSIDE = {
    "history:state": Policy.for_roles(reads=ADMINISTRATOR),
    "history:verifier": Policy.for_roles(reads=STAFF),
    "history:event": Policy.for_roles(reads=STAFF, at=EVENT),
    "history:proof": Policy.for_roles(reads=STAFF, at=EVENT),
}
