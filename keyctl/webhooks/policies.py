"""What the routes of webhooks ask for. Of an endpoint of several sites the views want all of them."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR

ENDPOINT = Named("webhooks.Endpoint", ("sites",))
DELIVERY = Named("webhooks.Delivery", ("endpoint__sites",))
HOST = Named("webhooks.AllowedHost")

POLICIES = {
    "list": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "new": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR),
    "forget-host": Policy.for_roles(writes=ADMINISTRATOR, at=HOST),
    "detail": Policy.for_roles(reads=ADMINISTRATOR, at=ENDPOINT),
    "rotate": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=ENDPOINT),
    "turn-on": Policy.for_roles(writes=ADMINISTRATOR, at=ENDPOINT),
    "turn-off": Policy.for_roles(writes=ADMINISTRATOR, at=ENDPOINT),
    "test": Policy.for_roles(writes=ADMINISTRATOR, at=ENDPOINT),
    "replay": Policy.for_roles(writes=ADMINISTRATOR, at=DELIVERY),
}
