"""The roles of the house. Each is granted per site."""

from django.db import models
from django.utils.translation import gettext_lazy


class Role(models.TextChoices):
    LOCKSMITH = "locksmith", gettext_lazy("Locksmith")
    KEY_DESK = "key-desk", gettext_lazy("Key desk")
    MANAGER = "manager", gettext_lazy("Manager")
    OFFICER = "officer", gettext_lazy("Security officer")
    AUDITOR = "auditor", gettext_lazy("Auditor")
    REQUESTER = "requester", gettext_lazy("Requester")
    ADMINISTRATOR = "administrator", gettext_lazy("Administrator")
    INTEGRATION = "integration", gettext_lazy("Integration")


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

# Who writes places down; and doors with their housings, which locksmiths know best.
PLACE_KEEPERS = (Role.ADMINISTRATOR, Role.INTEGRATION)
DOOR_KEEPERS = (Role.ADMINISTRATOR, Role.LOCKSMITH, Role.INTEGRATION)

# Who may see bittings, or decide on keys that open much: they prove themselves by a second factor.
TRUSTED_WITH_SECRETS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.ADMINISTRATOR)
