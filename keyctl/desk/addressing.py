"""Where a holder gets mail."""

from keyctl.keys.models import Holder
from keyctl.notices.services import mail_of


def address_of(holder: Holder) -> str:
    """Their own at the site, else that of their account or of the person; empty where none is known."""
    return holder.email or mail_of(holder.user) or (holder.person.email if holder.person else "")
