"""Bringing a backup into an installation that is empty, or whose holder says that it may go."""

from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction

from keyctl.accounts.models import User
from keyctl.audit import signing
from keyctl.audit.checkpoints import Checkpoint
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.audit.verifier import checkpoint_digest, read_checkpoints
from keyctl.lib.errors import Refused
from keyctl.lib.planner import look_anew
from keyctl.operations.backup.container import open_key, read_lines
from keyctl.operations.backup.loading import Contents, load
from keyctl.operations.backup.tables import applied_migrations, own_migrations
from keyctl.operations.backup.trying import compare, write_checkpoints
from keyctl.operations.looking import Outcome, look_at_everything
from keyctl.places.models import Site
from keyctl.vault import ring
from keyctl.vault.models import DataKey

WORDS = "replace everything that is here"


@dataclass
class Restored:
    contents: Contents
    outcome: Outcome
    # What must be put beside the data before everything works, a sentence each.
    missing: list[str] = field(default_factory=list)


def restore_backup(
    file: Path, *, secret: Path | None = None, replace: str = "", signed_by: str = ""
) -> Restored:
    """All of it in one transaction, or nothing. Raises ``Refused``."""
    _refuse_what_is_here(replace)
    if applied_migrations(connection) != own_migrations():
        raise Refused("The tables here are not those of this program. Run `manage.py migrate` first.")
    key = open_key(file, secret)
    with transaction.atomic():
        contents = load(connection, read_lines(file, key))
        _refuse_signer(contents, signed_by)
        refuse_newer_checkpoints(contents.checkpoints)
        compare(contents)
        _record(file, contents)
    look_anew()
    write_checkpoints(contents.checkpoints, settings.CHECKPOINT_DIR)
    ring.forget()
    outcome = look_at_everything()
    return Restored(contents, outcome, list(_missing(contents)))


def is_empty() -> bool:
    return not any(rows.exists() for rows in (User.objects, Site.objects, Event.objects))


def _refuse_what_is_here(replace: str) -> None:
    if is_empty() or replace == WORDS:
        return
    raise Refused(
        "This installation is not empty: it has people, sites or a history, and a restore would end them. "
        f"Restore into a new data folder. If they may go, repeat with --replace “{WORDS}”."
    )


def _refuse_signer(contents: Contents, signed_by: str) -> None:
    """By the key that somebody noted, else by the one of the secrets folder."""
    wanted = signed_by or (signing.public_key().hex() if signing.has_key() else "")
    if wanted and wanted != contents.signed_by:
        raise Refused(
            f"The backup was signed by {contents.signed_by or 'nobody'}, and not by {wanted}. Put the "
            "history.key of that installation into the secrets folder, or name the key that you noted with "
            "--signed-by."
        )


def refuse_newer_checkpoints(ours: list[Checkpoint]) -> None:
    folder = settings.CHECKPOINT_DIR
    there = read_checkpoints(str(folder)) if folder.is_dir() else []
    known = {checkpoint_digest(each) for each in ours}
    foreign = [each["size"] for each in there if checkpoint_digest(each) not in known]
    if foreign:
        raise Refused(
            f"{folder} holds checkpoints up to entry {max(foreign)} that the file does not know: what "
            "happened after it would be gone. Move the folder away and keep it, for it proves that; then "
            "restore again."
        )


def _record(file: Path, contents: Contents) -> None:
    last = max((each["size"] for each in contents.checkpoints), default=0)
    record(
        actor=None,
        verb="backup.restored",
        sentence=f"restored everything from the backup {file.name}, made at {contents.made_at}",
        detail={"file": file.name, "made_at": contents.made_at, "rows": contents.rows, "signed_up_to": last},
    )


def _missing(contents: Contents) -> list[str]:
    return [sentence for sentence in (_vault_words(), _history_words(contents)) if sentence]


def _vault_words() -> str:
    names = sorted(set(DataKey.objects.values_list("wrapped_by", flat=True)))
    try:
        if not names or ring.current() is not None:
            return ""
    except Refused as refused:
        return (
            f"{settings.VAULT_KEY_FILE}: put back the vault key {' or '.join(names)}. {refused.sentences[0]}"
        )
    return ""


def _history_words(contents: Contents) -> str:
    if not contents.signed_by:
        return "Nobody signed the backup: the key of the history was missing when it was made."
    if signing.has_key() and signing.public_key().hex() == contents.signed_by:
        return ""
    return (
        f"{settings.HISTORY_KEY_FILE}: put back the key that signs the history, {contents.signed_by}; "
        "without it new checkpoints do not go on from the old ones."
    )
