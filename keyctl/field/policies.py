"""What the routes of field ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.orders.policies import ORDER
from keyctl.places.policies import DOOR, EVERYBODY, LOCKSMITH
from keyctl.places.roles import Role

DEVICE_KEEPERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)
CASE_READERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
PHOTO_READERS = (Role.LOCKSMITH, Role.OFFICER)

DEVICE = Named("field.Device")
PHOTO = Named("field.FieldPhoto")
CASE = Named("field.ReconcileCase")

POLICIES = {
    "pack": Policy.for_roles(reads=LOCKSMITH, programs=True),
    "state": Policy.for_all("GET"),
    "events": Policy.for_signed_in("POST", programs=True),
    "lookup": Policy.for_roles(reads=LOCKSMITH, programs=True),
    "devices": Policy.for_roles(reads=DEVICE_KEEPERS),
    "register": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "device": Policy.for_roles(reads=DEVICE_KEEPERS, at=DEVICE),
    "rename": Policy.for_roles(writes=DEVICE_KEEPERS, at=DEVICE),
    "withdraw": Policy.for_roles(writes=DEVICE_KEEPERS, at=DEVICE),
    "cases": Policy.for_roles(reads=CASE_READERS),
    "case": Policy.for_roles(reads=CASE_READERS, at=CASE),
    "settle": Policy.for_roles(writes=LOCKSMITH, at=CASE),
    "hand-in": Policy.for_roles(reads=LOCKSMITH, writes=LOCKSMITH),
    "quarantine": Policy.for_roles(reads=LOCKSMITH),
    "take-in": Policy.for_roles(writes=LOCKSMITH),
    "set-aside": Policy.for_roles(writes=LOCKSMITH),
    "app": Policy.for_signed_in("GET"),
    "words": Policy.for_signed_in("GET"),
    "page-words": Policy.for_signed_in("GET"),
    "worker": Policy.for_all("GET"),
    "manifest": Policy.for_all("GET"),
    # What a tablet took with it is taken from whoever is signed in on it.
    "photo": Policy.for_roles(reads=PHOTO_READERS, puts=EVERYBODY, at=PHOTO, programs=True),
    "photo-picture": Policy.for_roles(reads=PHOTO_READERS, at=PHOTO),
    "door-photos": Policy.for_roles(reads=PHOTO_READERS, at=DOOR),
    "order-photos": Policy.for_roles(reads=PHOTO_READERS, at=ORDER),
}
