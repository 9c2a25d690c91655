"""The nightly backup, where a folder is configured."""

from datetime import datetime

from django.conf import settings
from django.utils.translation import gettext_noop

from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text
from keyctl.operations.backup import keys
from keyctl.operations.backup.making import make_backup

NO_FOLDER = kept_text(gettext_noop("No folder for backups is configured (KEYCTL_BACKUP_DIR)."))
NO_KEY = kept_text(
    gettext_noop(
        "There is no key for backups yet. Run `manage.py backup` once by hand and take a copy of "
        "backup.key off this machine: a backup whose key is lost with the machine is none."
    )
)
MADE = kept_text(gettext_noop("Backup {file}: {rows} rows, {bytes} bytes, read back and compared."))
MADE_OF_BROKEN = kept_text(
    gettext_noop(
        "Backup {file}: {rows} rows, {bytes} bytes, read back and compared. Breaches of the laws in the "
        "data: {breaches}."
    )
)


def back_up_every_night(_now: datetime) -> str:
    if settings.BACKUP_DIR is None:
        return NO_FOLDER
    if not keys.has_keys():
        raise Refused(NO_KEY)
    made = make_backup()
    text = MADE_OF_BROKEN if (breaches := made.trial.outcome.number) else MADE
    return text.format(
        file=made.file.name, rows=made.trial.contents.rows, bytes=made.bytes, breaches=breaches
    )
