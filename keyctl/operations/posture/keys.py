"""Keys, the places where they lie, and what is signed: against whoever takes away a folder."""

import os
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.lib.datafolder import trouble_with
from keyctl.operations.history.state import state_of_history
from keyctl.operations.posture.finding import Finding, act, good, look
from keyctl.operations.readiness import vault_is_open
from keyctl.vault.models import DataKey

# A year, or the day on which somebody leaves who could read the outer key: .deploy/SECURITY.md.
DATA_KEY_LASTS = timedelta(days=366)
SIGNED_WITHIN = timedelta(hours=2)
FOR_OTHERS, FOR_ALL = 0o077, 0o007


def vault() -> Finding:
    if vault_is_open():
        return good(_("Open: the key fits this database."))
    return look(_("Sealed: everything works but what needs a bitting."))


def keys_apart() -> Finding:
    """Not in the data folder, nor around it, and readable by their owner alone."""
    data, secrets = settings.DATA_DIR, settings.SECRETS_DIR
    if secrets == data or data in secrets.parents or secrets in data.parents:
        return act(
            _("{secrets} and {data} lie in each other: one copy holds the values and their key.").format(
                secrets=secrets, data=data
            )
        )
    # What systemd lays there for one service it opens by an access list, which shows as the group's right.
    closed = FOR_ALL if str(secrets) == os.environ.get("CREDENTIALS_DIRECTORY") else FOR_OTHERS
    open_to_others = [place.name for place in _secret_places(secrets) if place.stat().st_mode & closed]
    if open_to_others:
        return act(
            _("Others on this machine may read in {secrets}: {open_to_others}.").format(
                secrets=secrets, open_to_others=", ".join(open_to_others)
            )
        )
    if os.environ.get("KEYCTL_VAULT_KEY"):
        return good(_("The key of the vault is given by the environment; no file holds it."))
    return good(
        _("In {secrets}, apart from {data}, readable by their owner alone.").format(
            secrets=secrets, data=data
        )
    )


def _secret_places(folder: Path) -> list[Path]:
    return [folder, *sorted(folder.iterdir())] if folder.is_dir() else []


def data_key_age() -> Finding:
    made = DataKey.objects.filter(purpose=DataKey.Purpose.SEAL, retired_at=None).order_by("made_at").first()
    if made is None:
        return look(_("There is no data key yet."))
    days = (timezone.now() - made.made_at).days
    words = _("The data key in use is {days} days old.").format(days=days)
    return look(words) if timedelta(days=days) > DATA_KEY_LASTS else good(words)


def checkpoints() -> Finding:
    state = state_of_history()
    if state.folder == settings.DATA_DIR or settings.DATA_DIR in state.folder.parents:
        return act(
            _("Checkpoints lie in the data folder, {folder}: who replaces it replaces them too.").format(
                folder=state.folder
            )
        )
    if state.trouble:
        return act(state.trouble)
    if state.age is None:
        return (
            look(_("The history was never signed.")) if state.entries else good(_("There is no history yet."))
        )
    words = _("Signed {hours} ago, {unsigned} entries since, in {folder}.").format(
        hours=_hours(state.age), unsigned=state.unsigned, folder=state.folder
    )
    return look(words) if state.unsigned and state.age > SIGNED_WITHIN else good(words)


def data_folder() -> Finding:
    """SQLite wants a disk of this machine: a share or memory loses what was acknowledged."""
    engine = settings.DATABASES["default"]["ENGINE"]
    if trouble := trouble_with(settings.DATA_DIR, engine):
        return act(trouble)
    kind = "PostgreSQL" if engine.endswith("postgresql") else "SQLite"
    return good(
        _("{kind}; the data folder {data_dir} is on a disk that keeps what it takes.").format(
            kind=kind, data_dir=settings.DATA_DIR
        )
    )


def _hours(age: timedelta) -> str:
    minutes = int(age.total_seconds() // 60)
    return f"{minutes} minutes" if minutes < 120 else f"{minutes // 60} hours"
