"""What people change about their own account."""

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.services import record


@transaction.atomic
def change_password(*, actor: User, new_password: str) -> User:
    """The form has asked for the current password and weighed the new one."""
    actor.set_password(new_password)
    actor.save(update_fields=["password"])
    record(
        actor=actor,
        verb="account.password_changed",
        sentence="changed their own password",
        subjects=[actor],
    )
    return actor
