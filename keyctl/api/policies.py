"""What the routes of api ask for."""

from keyctl.api.models import Scope
from keyctl.cores.policies import CORE
from keyctl.lib.policy import Named, Policy
from keyctl.orders.policies import ORDER
from keyctl.places.policies import ADMINISTRATOR, BUILDING, DOOR, HOUSING, SITE

TOKEN = Named("api.Token", ("user__memberships__site",))

POLICIES = {
    "tokens": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "revoke-token": Policy.for_roles(writes=ADMINISTRATOR, at=TOKEN),
}

READS_ESTATE = Policy.for_tokens(GET=Scope.ESTATE_READ)

POLICIES |= {
    "schema": Policy.for_all("GET"),
    "docs": Policy.for_all("GET"),
    "problem": Policy.for_all("GET"),
    # Whatever leads nowhere says so to everybody, by every method.
    "nowhere": Policy.for_tokens(),
    "sites": READS_ESTATE,
    "site": Policy.for_tokens(SITE, GET=Scope.ESTATE_READ),
    "buildings": READS_ESTATE,
    "building": Policy.for_tokens(BUILDING, GET=Scope.ESTATE_READ),
    "doors": READS_ESTATE,
    "door": Policy.for_tokens(DOOR, GET=Scope.ESTATE_READ),
    "openers": Policy.for_tokens(DOOR, GET=Scope.ESTATE_READ),
    "housings": READS_ESTATE,
    "housing": Policy.for_tokens(HOUSING, GET=Scope.ESTATE_READ),
    "cores": READS_ESTATE,
    "core": Policy.for_tokens(CORE, GET=Scope.ESTATE_READ),
    "work-orders": Policy.for_tokens(GET=Scope.ORDERS_READ, POST=Scope.ORDERS_WRITE),
    "work-order": Policy.for_tokens(ORDER, GET=Scope.ORDERS_READ),
}
