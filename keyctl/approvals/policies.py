"""What the routes of approvals ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR, BUILDING, DESK, EVERYBODY, SITE
from keyctl.places.roles import Role

FULFILLERS = (Role.LOCKSMITH, Role.KEY_DESK, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
RULE_READERS = (Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
DECIDERS = (Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)
CUTTERS = (Role.LOCKSMITH, Role.KEY_DESK)
READERS = (Role.KEY_DESK, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)

RULE = Named("approvals.ApprovalRule")
GRANT = Named("approvals.Grant", ("request__building__site",))
REQUEST = Named("approvals.KeyRequest", ("building__site",))
SUBSTITUTE = Named("approvals.Substitute")

POLICIES = {
    "list": Policy.for_signed_in("GET"),
    "ask": Policy.for_signed_in("GET"),
    "ask-building": Policy.for_roles(reads=EVERYBODY, writes=EVERYBODY, at=BUILDING),
    "desk": Policy.for_roles(reads=FULFILLERS),
    "decisions": Policy.for_signed_in("GET"),
    # Whom a rule names decides too, whatever their role.
    "rules": Policy.for_roles(reads=RULE_READERS, personal=True),
    "rule-add": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    "rules-write": Policy.for_roles(writes=ADMINISTRATOR, at=SITE),
    "rule-change": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=RULE),
    "rule-up": Policy.for_roles(writes=ADMINISTRATOR, at=RULE),
    "rule-remove": Policy.for_roles(writes=ADMINISTRATOR, at=RULE),
    "settings": Policy.for_roles(reads=ADMINISTRATOR, writes=ADMINISTRATOR, at=SITE),
    "substitutes": Policy.for_roles(reads=DECIDERS, personal=True),
    "substitute-name": Policy.for_roles(reads=DECIDERS, writes=DECIDERS, at=SITE, personal=True),
    "substitute-end": Policy.for_roles(writes=ADMINISTRATOR, at=SUBSTITUTE, personal=True),
    "detail": Policy.for_roles(reads=READERS, at=REQUEST, personal=True),
    "approve": Policy.for_roles(writes=(), at=REQUEST, personal=True),
    "refuse": Policy.for_roles(writes=(), at=REQUEST, personal=True),
    "withdraw": Policy.for_roles(writes=(), at=REQUEST, personal=True),
    "look-again": Policy.for_roles(writes=CUTTERS, at=REQUEST),
    "hand-out": Policy.for_roles(reads=DESK, writes=DESK, at=GRANT),
}
