"""Keys, the places where they lie, and what is signed: against whoever takes away a folder."""

import os
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

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
        return good("Open: the key fits this database.")
    return look("Sealed: everything works but what needs a bitting.")


def keys_apart() -> Finding:
    """Not in the data folder, nor around it, and readable by their owner alone."""
    data, secrets = settings.DATA_DIR, settings.SECRETS_DIR
    if secrets == data or data in secrets.parents or secrets in data.parents:
        return act(f"{secrets} and {data} lie in each other: one copy holds the values and their key.")
    # What systemd lays there for one service it opens by an access list, which shows as the group's right.
    closed = FOR_ALL if str(secrets) == os.environ.get("CREDENTIALS_DIRECTORY") else FOR_OTHERS
    open_to_others = [place.name for place in _secret_places(secrets) if place.stat().st_mode & closed]
    if open_to_others:
        return act(f"Others on this machine may read in {secrets}: {', '.join(open_to_others)}.")
    if os.environ.get("KEYCTL_VAULT_KEY"):
        return good("The key of the vault is given by the environment; no file holds it.")
    return good(f"In {secrets}, apart from {data}, readable by their owner alone.")


def _secret_places(folder: Path) -> list[Path]:
    return [folder, *sorted(folder.iterdir())] if folder.is_dir() else []


def data_key_age() -> Finding:
    made = DataKey.objects.filter(purpose=DataKey.Purpose.SEAL, retired_at=None).order_by("made_at").first()
    if made is None:
        return look("There is no data key yet.")
    days = (timezone.now() - made.made_at).days
    words = f"The data key in use is {days} days old."
    return look(words) if timedelta(days=days) > DATA_KEY_LASTS else good(words)


def checkpoints() -> Finding:
    state = state_of_history()
    if state.folder == settings.DATA_DIR or settings.DATA_DIR in state.folder.parents:
        return act(f"Checkpoints lie in the data folder, {state.folder}: who replaces it replaces them too.")
    if state.trouble:
        return act(state.trouble)
    if state.age is None:
        return look("The history was never signed.") if state.entries else good("There is no history yet.")
    words = f"Signed {_hours(state.age)} ago, {state.unsigned} entries since, in {state.folder}."
    return look(words) if state.unsigned and state.age > SIGNED_WITHIN else good(words)


def data_folder() -> Finding:
    """SQLite wants a disk of this machine: a share or memory loses what was acknowledged."""
    engine = settings.DATABASES["default"]["ENGINE"]
    if trouble := trouble_with(settings.DATA_DIR, engine):
        return act(trouble)
    kind = "PostgreSQL" if engine.endswith("postgresql") else "SQLite"
    return good(f"{kind}; the data folder {settings.DATA_DIR} is on a disk that keeps what it takes.")


def _hours(age: timedelta) -> str:
    minutes = int(age.total_seconds() // 60)
    return f"{minutes} minutes" if minutes < 120 else f"{minutes // 60} hours"
