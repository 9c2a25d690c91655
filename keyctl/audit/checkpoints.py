"""Signed checkpoints: what the history was up to an entry, kept where the database is not.

Whoever owns the database can rewrite it with every hash in it. They cannot sign that, and not take back what
was copied off the machine: the folder is meant to be copied.
"""

import json
import os
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.audit import signing
from keyctl.audit.merkle import consistency_path, root_of
from keyctl.audit.models import Event, Link
from keyctl.audit.services import record
from keyctl.audit.verifier import checkpoint_digest, signed_bytes
from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text

Checkpoint = dict[str, Any]

SIGNED = "history.signed"
AT_LEAST_EVERY = timedelta(hours=1)
ENTRIES = 1000
LAST = 2**63 - 1

NOTHING_NEW = kept_text(gettext_noop("Nothing happened since the last checkpoint."))
WAITING = kept_text(gettext_noop("{entries} entries wait for the next checkpoint."))
DONE = kept_text(gettext_noop("Signed the history up to entry {number}."))
# Said to whoever signs, and kept by the routine.
BEGINS_OTHERWISE = kept_text(
    gettext_noop(
        "The history does not begin with what was signed before, so it is not signed again. Run "
        "`manage.py check_history` and keep the checkpoints. Where another database was put here on "
        "purpose, move {folder} away."
    )
)
UNREADABLE = kept_text(gettext_noop("{file} cannot be read as a checkpoint. Put its copy back."))
UNWRITABLE = kept_text(
    gettext_noop(
        "The checkpoint cannot be written to {folder}: {error}. Make the folder writable "
        "for the worker, or name another in KEYCTL_CHECKPOINT_DIR."
    )
)


def sign_when_due(now: datetime) -> str:
    """The routine: hourly where anything happened, and sooner where much did."""
    last = latest_checkpoint()
    new = _count_of_links() - (last["size"] if last else 0)
    if new <= _own(last):
        return NOTHING_NEW
    if last and new < ENTRIES and now - datetime.fromisoformat(last["at"]) < AT_LEAST_EVERY:
        return WAITING.format(entries=new)
    return DONE.format(number=sign_history()["size"])


def sign_history() -> Checkpoint:
    """Sign what is there now; refused where it does not go on from what was signed before."""
    last, leaves = latest_checkpoint(), hashes()
    if last and (len(leaves) < last["size"] or root_of(leaves[: last["size"]]).hex() != last["root"]):
        raise Refused(_(BEGINS_OTHERWISE).format(folder=settings.CHECKPOINT_DIR))
    if last is None and not signing.has_key():
        signing.make_key()
    checkpoint: Checkpoint = {
        "size": len(leaves),
        "root": root_of(leaves).hex(),
        "at": timezone.now().isoformat(),
        "before": checkpoint_digest(last) if last else "",
        "consistency": [node.hex() for node in consistency_path(last["size"], leaves)] if last else [],
        "key": signing.public_key().hex(),
    }
    checkpoint["signature"] = signing.sign(signed_bytes(checkpoint)).hex()
    _write(checkpoint)
    record(
        actor=None,
        verb=SIGNED,
        sentence=f"signed the history up to entry {checkpoint['size']}",
        detail={"size": checkpoint["size"], "digest": checkpoint_digest(checkpoint)},
    )
    return checkpoint


def hashes(up_to: int | None = None) -> list[bytes]:
    """The leaves of the tree, in order."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT hash FROM audit_link WHERE number <= %s ORDER BY number", [up_to or LAST])
        return [bytes(own) for (own,) in cursor.fetchall()]


def latest_checkpoint() -> Checkpoint | None:
    files = _files()
    return _read(files[-1]) if files else None


def checkpoint_over(number: int) -> Checkpoint | None:
    """The first that an entry is in: later ones change nothing for it."""
    file = next((file for file in _files() if int(file.stem) >= number), None)
    return _read(file) if file else None


def _files() -> list[Path]:
    return sorted(file for file in settings.CHECKPOINT_DIR.glob("*.json") if file.stem.isdigit())


def _read(file: Path) -> Checkpoint:
    try:
        found: Checkpoint = json.loads(file.read_text(encoding="utf-8"))
    except ValueError:
        raise Refused(_(UNREADABLE).format(file=file)) from None
    return found


def _write(checkpoint: Checkpoint) -> None:
    """Whole or not at all, also when the power goes."""
    file = settings.CHECKPOINT_DIR / f"{checkpoint['size']:012}.json"
    unfinished = file.with_suffix(".new")
    try:
        file.parent.mkdir(mode=0o755, parents=True, exist_ok=True)
        with unfinished.open("w", encoding="utf-8") as out:
            json.dump(checkpoint, out, indent=1)
            out.flush()
            os.fsync(out.fileno())
        unfinished.chmod(0o444)
        unfinished.replace(file)
    except OSError as error:
        raise Refused(_(UNWRITABLE).format(folder=file.parent, error=error.strerror)) from error


def _count_of_links() -> int:
    return Link.objects.order_by("-number").values_list("number", flat=True).first() or 0


def _own(last: Checkpoint | None) -> int:
    """The entry that tells of the last checkpoint is no reason for another."""
    if last is None:
        return 0
    return Event.objects.filter(link__number=last["size"] + 1, verb=SIGNED).count()
