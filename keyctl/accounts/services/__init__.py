"""What people change about their own account, how a sign-in ends and begins again, and what is told of it."""

from keyctl.accounts.services.sign_ins import (
    begin_sign_in,
    change_password,
    end_sign_in,
    note_failure,
    note_sign_in,
)

__all__ = ["begin_sign_in", "change_password", "end_sign_in", "note_failure", "note_sign_in"]
