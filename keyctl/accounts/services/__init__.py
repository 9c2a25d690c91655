"""What people change about their own account, how a sign-in ends and begins again, and what is told of it."""

from keyctl.accounts.services.factors import (
    add_app,
    add_passkey,
    make_recovery_codes,
    remove_factor,
    reset_factors,
)
from keyctl.accounts.services.providers import tie_to_provider
from keyctl.accounts.services.sessions import end_session, end_sessions
from keyctl.accounts.services.sign_ins import (
    begin_sign_in,
    change_password,
    end_sign_in,
    note_failure,
    note_sign_in,
)
from keyctl.accounts.services.speaking import choose_speech
from keyctl.accounts.services.ways_back import (
    find_way_back,
    make_first_code,
    make_way_back,
    take_way_back,
)

__all__ = [
    "add_app",
    "add_passkey",
    "begin_sign_in",
    "change_password",
    "choose_speech",
    "end_session",
    "end_sessions",
    "end_sign_in",
    "find_way_back",
    "make_first_code",
    "make_recovery_codes",
    "make_way_back",
    "note_failure",
    "note_sign_in",
    "remove_factor",
    "reset_factors",
    "take_way_back",
    "tie_to_provider",
]
