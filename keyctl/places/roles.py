"""The roles of the house. Each is granted per site."""

from django.db import models


class Role(models.TextChoices):
    LOCKSMITH = "locksmith", "Locksmith"
    KEY_DESK = "key-desk", "Key desk"
    MANAGER = "manager", "Manager"
    OFFICER = "officer", "Security officer"
    AUDITOR = "auditor", "Auditor"
    REQUESTER = "requester", "Requester"
    ADMINISTRATOR = "administrator", "Administrator"
    INTEGRATION = "integration", "Integration"


# Who may look at the estate: everybody but those who only ask for keys.
STAFF = (
    Role.LOCKSMITH,
    Role.KEY_DESK,
    Role.MANAGER,
    Role.OFFICER,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
    Role.INTEGRATION,
)

# Who may see bittings, or decide on keys that open much: they prove themselves by a second factor.
TRUSTED_WITH_SECRETS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)
