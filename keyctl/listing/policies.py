"""What the routes of listing ask for. Whose list it is, the list says; kept views and acts on many rows are
one's own, and not there for anybody else."""

from keyctl.lib.policy import Policy
from keyctl.places.policies import EVERYBODY

POLICIES: dict[str, Policy] = {
    "columns": Policy.for_roles(reads=EVERYBODY, writes=EVERYBODY),
    "views": Policy.for_roles(reads=EVERYBODY),
    "keep-view": Policy.for_roles(reads=EVERYBODY, writes=EVERYBODY),
    "open-whole": Policy.for_roles(writes=EVERYBODY),
    "begin": Policy.for_roles(writes=EVERYBODY),
    "view": Policy.for_signed_in("GET", "POST"),
    "remove-view": Policy.for_signed_in("POST"),
    "open-with": Policy.for_signed_in("POST"),
    "acts": Policy.for_signed_in("GET"),
    "act": Policy.for_signed_in("GET"),
    "try": Policy.for_signed_in("POST"),
    "do": Policy.for_signed_in("POST"),
    "undo": Policy.for_signed_in("POST"),
    "drop": Policy.for_signed_in("POST"),
}
