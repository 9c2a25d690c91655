"""All guides in the order of the list, and whose they are."""

from keyctl.accounts.models import User
from keyctl.guides.parts import Guide
from keyctl.guides.texts import (
    administrator,
    auditor,
    decisions,
    first_hour,
    key_desk,
    locksmith,
    officer,
    requester,
)

GUIDES: tuple[Guide, ...] = (
    first_hour.GUIDE,
    locksmith.GUIDE,
    key_desk.GUIDE,
    decisions.GUIDE,
    officer.GUIDE,
    auditor.GUIDE,
    requester.GUIDE,
    administrator.GUIDE,
)


def guides_for(user: User) -> tuple[list[Guide], list[Guide]]:
    """Those of the person's roles, and the others."""
    held = set(user.memberships.values_list("role", flat=True))
    own = [guide for guide in GUIDES if held & set(guide.roles)]
    return own, [guide for guide in GUIDES if guide not in own]
