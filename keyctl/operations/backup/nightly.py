"""The nightly backup, where a folder is configured."""

from datetime import datetime

from django.conf import settings

from keyctl.lib.errors import Refused
from keyctl.operations.backup import keys
from keyctl.operations.backup.making import make_backup


def back_up_every_night(_now: datetime) -> str:
    if settings.BACKUP_DIR is None:
        return "No folder for backups is configured (KEYCTL_BACKUP_DIR)."
    if not keys.has_keys():
        raise Refused(
            "There is no key for backups yet. Run `manage.py backup` once by hand and take a copy of "
            "backup.key off this machine: a backup whose key is lost with the machine is none."
        )
    made = make_backup()
    words = f"{made.file.name}: {made.trial.contents.rows} rows, {made.bytes} bytes, read back and compared."
    breaches = made.trial.outcome.number
    return f"{words} The data has {breaches} breaches of the laws." if breaches else words
