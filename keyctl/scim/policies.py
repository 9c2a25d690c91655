"""What the routes of SCIM ask for: a token with the scope for people, which is for the whole estate."""

from keyctl.api.models import Scope
from keyctl.lib.policy import Policy

# One scope for all of it; what a view has no method for answers 405 to such a token, and 403 to others.
READS = Policy.for_tokens(GET=Scope.PEOPLE)
SEARCHES = Policy.for_tokens(POST=Scope.PEOPLE)

POLICIES = {
    "config": READS,
    "resource-types": READS,
    "resource-type": READS,
    "schemas": READS,
    "schema": READS,
    "users": Policy.for_tokens(GET=Scope.PEOPLE, POST=Scope.PEOPLE),
    "user": Policy.for_tokens(GET=Scope.PEOPLE, PUT=Scope.PEOPLE, PATCH=Scope.PEOPLE, DELETE=Scope.PEOPLE),
    "search": SEARCHES,
    "search-all": SEARCHES,
    "groups": READS,
    "me": Policy.for_tokens(),
    "bulk": Policy.for_tokens(),
    "nowhere": Policy.for_tokens(),
}
