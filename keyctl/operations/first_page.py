"""What the first page says of the installation: how it is guarded, and how the history stands."""

from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.audit.checkpoints import latest_checkpoint
from keyctl.audit.models import Head
from keyctl.jobs.selectors import RoutineRow, routine_rows
from keyctl.lib.errors import Refused
from keyctl.lib.retold import retold
from keyctl.operations.history.state import ROUTINES
from keyctl.operations.posture.finding import Level, Row
from keyctl.operations.posture.rows import rows
from keyctl.places.roles import Role
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone
from keyctl.start.wording import since_words

# Checks that ask as much of a large installation as of a small one; the page of security runs all.
AT_ONCE = frozenset(
    {
        "vault",
        "keys-apart",
        "address",
        "debug",
        "backup",
        "drill",
        "estate",
        "work",
        "jobs",
        "tokens",
        "tablets",
        "administrators",
    }
)
TONES = {Level.ACT: Tone.BAD, Level.LOOK: Tone.WARN}
SIGNED_WITHIN_HOURS = 2


def guarded(morning: Morning) -> Block:
    """What is not in order, the gravest first."""
    found = [row for row in rows(morning.actor, AT_ONCE) if row.level != Level.GOOD]
    found.sort(key=lambda row: -row.level)
    return Block(
        question=_("Is the installation well guarded?"),
        lines=[_check_line(row) for row in found[:SHOWN]],
        empty=_("Every check that is quick to make is in order."),
        total=len(found),
        more=Act(_("All checks"), reverse("operations:security")),
    )


def _check_line(row: Row) -> Line:
    return Line(
        what=str(row.check.label),
        url=reverse(row.page) if row.page else reverse("operations:security"),
        about=f"{row.finding.words} {row.remedy}",
        mark=Mark(TONES[row.level], row.level.words),
    )


def history_stands(morning: Morning) -> Block:
    """What was signed last, and what the checks that come round said."""
    checks = [row for row in routine_rows() if row.kind.name.startswith(ROUTINES)]
    # Its own page is the administrators'; whoever audits reads of it on the page of security.
    is_keeper = Role.ADMINISTRATOR in morning.roles
    page = reverse("history:state" if is_keeper else "operations:security")
    lines = [_signed_line(page, morning.now), *(_routine_line(row, page, morning.now) for row in checks)]
    return Block(
        question=_("Is the history sound?"),
        lines=lines[:SHOWN],
        empty="",
        total=len(lines),
        more=Act(_("More of it"), page),
    )


def _signed_line(page: str, now: datetime) -> Line:
    label = _("Last signed checkpoint")
    entries = _entries()
    try:
        last = latest_checkpoint()
    except Refused as refusal:
        return Line(label, page, " ".join(refusal.sentences), Mark(Tone.BAD, _("Cannot be read")))
    if last is None:
        words = _("Nothing was ever signed.") if entries else _("There is no history yet.")
        return Line(label, page, words, Mark(Tone.WARN, _("Not signed")) if entries else None)
    signed_at = datetime.fromisoformat(last["at"])
    since = max(0, entries - last["size"])
    words = ngettext(
        "Signed {when}; {count} entry since.", "Signed {when}; {count} entries since.", since
    ).format(when=since_words(signed_at, now), count=since)
    is_old = since and (now - signed_at).total_seconds() > SIGNED_WITHIN_HOURS * 3600
    return Line(label, page, words, Mark(Tone.WARN, _("Late")) if is_old else Mark(Tone.GOOD, _("Signed")))


def _entries() -> int:
    head = Head.objects.first()
    return head.number if head else 0


def _routine_line(row: RoutineRow, page: str, now: datetime) -> Line:
    routine = row.routine
    if routine is None or routine.last_run_at is None:
        return Line(str(row.kind.label), page, _("Never done."), Mark(Tone.WARN, _("Not checked")))
    words = f"{since_words(routine.last_run_at, now)}. {retold(routine.last_sentence)}"
    mark = Mark(Tone.WARN, _("Late")) if row.is_late else None
    if routine.failed:
        mark = Mark(Tone.BAD, _("Failed"))
    return Line(str(row.kind.label), page, words[:1].upper() + words[1:], mark)
