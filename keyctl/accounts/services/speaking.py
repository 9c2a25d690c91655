"""How pages speak to a person."""

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.services import record


@transaction.atomic
def choose_speech(*, actor: User, language: str, dates: str, units: str) -> None:
    """Everybody chooses for themselves; what is empty follows browser, language and core format."""
    actor.language, actor.dates, actor.units = language, dates, units
    actor.save(update_fields=["language", "dates", "units"])
    record(
        actor=actor,
        verb="account.speech",
        sentence="chose language, dates and units of their pages",
        subjects=[actor],
        detail={"language": language, "dates": dates, "units": units},
    )
