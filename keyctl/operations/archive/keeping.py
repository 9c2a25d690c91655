"""Where archives lie until they are fetched, and for how long. They open by their passphrase alone."""

from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.operations.models import EstateArchive, EstateArchiveFile

KEPT_FOR = timedelta(days=7)
FORGOTTEN = kept_text(gettext_noop("Archives older than {days} days, deleted: {count}."))


def place_of(archive: EstateArchive) -> Path:
    folder: Path = settings.DATA_DIR / "archives"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder / archive.file_name


def drop(file: EstateArchiveFile) -> None:
    place_of(file.archive).unlink(missing_ok=True)
    file.gone_at = timezone.now()
    file.save(update_fields=["gone_at"])


def forget_old_files(now: datetime) -> str:
    """The routine."""
    old = EstateArchiveFile.objects.filter(made_at__lt=now - KEPT_FOR, gone_at=None).select_related("archive")
    found = list(old)
    for file in found:
        drop(file)
    return FORGOTTEN.format(days=KEPT_FOR.days, count=len(found))
