"""What the routes of api ask for."""

from keyctl.api.models import Scope
from keyctl.approvals.policies import REQUEST
from keyctl.cores.policies import CORE
from keyctl.keys.policies import CABINET, COPY, HOLDER
from keyctl.lib.policy import Named, Policy
from keyctl.orders.policies import ORDER
from keyctl.places.policies import ADMINISTRATOR, BUILDING, DOOR, FLOOR, HOUSING, OFFICER, SITE, SPACE
from keyctl.systems.policies import SYMBOL, SYSTEM
from keyctl.webhooks.policies import ENDPOINT

EVENT = Named("audit.Link", ("event__site_id",))
TOKEN = Named("api.Token", ("user__memberships__site",))

POLICIES = {
    "tokens": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "revoke-token": Policy.for_roles(writes=ADMINISTRATOR, at=TOKEN),
    "windows": Policy.for_roles(reads=OFFICER),
    "open-window": Policy.for_roles(reads=OFFICER, writes=OFFICER, at=TOKEN),
    "close-window": Policy.for_roles(writes=OFFICER, at=TOKEN),
}

READS_ESTATE = Policy.for_tokens(GET=Scope.ESTATE_READ)
WRITES_ESTATE = Policy.for_tokens(POST=Scope.ESTATE_WRITE)
KEEPS_ESTATE = Policy.for_tokens(GET=Scope.ESTATE_READ, POST=Scope.ESTATE_WRITE)
REMOVABLE = {"GET": Scope.ESTATE_READ, "PATCH": Scope.ESTATE_WRITE, "DELETE": Scope.ESTATE_WRITE}

POLICIES |= {
    "schema": Policy.for_all("GET"),
    "docs": Policy.for_all("GET"),
    "problem": Policy.for_all("GET"),
    # Whatever leads nowhere says so to everybody, by every method.
    "nowhere": Policy.for_tokens(),
    "sites": READS_ESTATE,
    "site": Policy.for_tokens(SITE, GET=Scope.ESTATE_READ),
    "buildings": KEEPS_ESTATE,
    "building": Policy.for_tokens(BUILDING, **REMOVABLE),
    "floors": KEEPS_ESTATE,
    "floor": Policy.for_tokens(FLOOR, **REMOVABLE),
    "spaces": KEEPS_ESTATE,
    "spaces-bulk": WRITES_ESTATE,
    "space": Policy.for_tokens(SPACE, **REMOVABLE),
    "doors": KEEPS_ESTATE,
    "doors-bulk": WRITES_ESTATE,
    "door": Policy.for_tokens(DOOR, **REMOVABLE),
    "openers": Policy.for_tokens(DOOR, GET=Scope.ESTATE_READ),
    "housings": KEEPS_ESTATE,
    "housings-bulk": WRITES_ESTATE,
    "housing": Policy.for_tokens(HOUSING, **REMOVABLE),
    "cores": KEEPS_ESTATE,
    "cores-bulk": WRITES_ESTATE,
    "core": Policy.for_tokens(CORE, GET=Scope.ESTATE_READ, PATCH=Scope.ESTATE_WRITE),
    "core-pins": Policy.for_tokens(CORE, POST=Scope.PINNING_READ),
    "core-pins-ask": Policy.for_tokens(CORE, POST=Scope.PINNING_READ),
    "work-orders": Policy.for_tokens(GET=Scope.ORDERS_READ, POST=Scope.ORDERS_WRITE),
    "work-order": Policy.for_tokens(ORDER, GET=Scope.ORDERS_READ),
    "work-order-cancel": Policy.for_tokens(ORDER, POST=Scope.ORDERS_WRITE),
}

READS_KEYS = Policy.for_tokens(GET=Scope.KEYS_READ)

POLICIES |= {
    "key-systems": READS_KEYS,
    "key-system": Policy.for_tokens(SYSTEM, GET=Scope.KEYS_READ),
    "keys": READS_KEYS,
    "key": Policy.for_tokens(SYMBOL, GET=Scope.KEYS_READ),
    "key-doors": Policy.for_tokens(SYMBOL, GET=Scope.KEYS_READ),
    "cabinets": READS_KEYS,
    "cabinet": Policy.for_tokens(CABINET, GET=Scope.KEYS_READ),
    "key-copies": Policy.for_tokens(GET=Scope.KEYS_READ, POST=Scope.KEYS_WRITE),
    "key-copies-bulk": Policy.for_tokens(POST=Scope.KEYS_WRITE),
    "key-copy": Policy.for_tokens(COPY, GET=Scope.KEYS_READ),
    "key-copy-hand-out": Policy.for_tokens(COPY, POST=Scope.KEYS_WRITE),
    "key-copy-take-back": Policy.for_tokens(COPY, POST=Scope.KEYS_WRITE),
    "holders": Policy.for_tokens(GET=Scope.HOLDERS_READ, POST=Scope.HOLDERS_WRITE),
    "holders-bulk": Policy.for_tokens(POST=Scope.HOLDERS_WRITE),
    "holder": Policy.for_tokens(HOLDER, GET=Scope.HOLDERS_READ, PATCH=Scope.HOLDERS_WRITE),
    "holder-deactivate": Policy.for_tokens(HOLDER, POST=Scope.HOLDERS_WRITE),
    "holder-reactivate": Policy.for_tokens(HOLDER, POST=Scope.HOLDERS_WRITE),
    "holder-doors": Policy.for_tokens(HOLDER, GET=Scope.HOLDERS_READ),
    "requests": Policy.for_tokens(GET=Scope.REQUESTS_READ, POST=Scope.REQUESTS_WRITE),
    "request": Policy.for_tokens(REQUEST, GET=Scope.REQUESTS_READ),
    "request-withdraw": Policy.for_tokens(REQUEST, POST=Scope.REQUESTS_WRITE),
    # Any token: of each kind it is told by that kind's scope.
    "changes": Policy.for_tokens(GET=""),
    "search": Policy.for_tokens(GET=""),
    "webhooks": Policy.for_tokens(GET=Scope.EVENTS_READ),
    "webhook": Policy.for_tokens(ENDPOINT, GET=Scope.EVENTS_READ),
    "webhook-deliveries": Policy.for_tokens(ENDPOINT, GET=Scope.EVENTS_READ),
    "events": Policy.for_tokens(GET=Scope.EVENTS_READ),
    "event": Policy.for_tokens(EVENT, GET=Scope.EVENTS_READ),
}
