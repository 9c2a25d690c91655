"""What an auditor asks first: what was counted, what was looked at, and where everything else is read."""

from datetime import timedelta

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.counts.models import Count
from keyctl.lib.retold import retold
from keyctl.places.roles import Role
from keyctl.reveals.models import Reveal
from keyctl.start.blocks import Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import since_words

LATELY = timedelta(days=7)
LOOKS_SHOWN = 3


def last_counts(morning: Morning) -> Block:
    """What was counted last, with what was missing."""
    closed = Count.objects.filter(site__in=morning.at(Role.AUDITOR), state=Count.State.CLOSED)
    shown = closed.with_names().order_by("-ended_at", "pk")[:LOOKS_SHOWN]
    return Block(
        question=_("What was counted last?"),
        lines=[_count_line(each, morning) for each in shown],
        empty=_("No count of keys was ever finished."),
        total=counted(closed),
        more=Act(_("All counts"), f"{reverse('counts:list')}?show=done"),
    )


def _count_line(count: Count, morning: Morning) -> Line:
    page = reverse("counts:detail", args=[count.pk])
    number = count.difference_count or 0
    words = ngettext("{count} difference", "{count} differences", number).format(count=number)
    return Line(
        what=_("{count}: {what}").format(count=count, what=count.what),
        url=page,
        about=_("{site}, closed {when}").format(
            site=count.site, when=since_words(count.ended_at or morning.now, morning.now)
        ),
        mark=Mark(Tone.WARN, words) if number else Mark(Tone.GOOD, _("No difference")),
    )


def looks_taken(morning: Morning) -> Block:
    """Within a week, the last first."""
    seen = Reveal.objects.filter(site__in=morning.at(Role.AUDITOR), at__gt=morning.now - LATELY)
    shown = seen.select_related("actor", "site").order_by("-at", "pk")[:LOOKS_SHOWN]
    return Block(
        question=_("What was looked at in the last seven days?"),
        lines=[_look_line(each, morning) for each in shown],
        empty=_("Nobody looked at a secret in the last seven days."),
        total=counted(seen),
        more=Act(_("All looks"), reverse("reveals:register")),
    )


def _look_line(seen: Reveal, morning: Morning) -> Line:
    return Line(
        what=retold(seen.words),
        url=reverse("reveals:register"),
        about=_("{person} at {site}, {when}: {ground}").format(
            person=seen.actor,
            site=seen.site,
            when=since_words(seen.at, morning.now),
            ground=retold(seen.ground),
        ),
        mark=_look_mark(seen),
    )


def _look_mark(seen: Reveal) -> Mark | None:
    if seen.is_high:
        return Mark(Tone.WARN, _("Master or control key"))
    return Mark(Tone.WAIT, _("Work they gave themselves")) if seen.is_own_work else None


def entry_points(_morning: Morning) -> Block:
    """Where the rest is read."""
    doors = (
        (_("The proofs of the estate"), "proofs:list", _("What every key does to every core, and why.")),
        (_("Evidence of counts"), "counts:list", _("What was counted when, and what was missing.")),
        (_("The register of keys"), "keys:register", _("Who had which key from when to when.")),
        (_("All looks at secrets"), "reveals:register", _("Who saw what, and on what ground.")),
        (_("How the installation is guarded"), "operations:security", _("Named checks with their remedies.")),
    )
    return Block(
        question=_("Where do you want to look?"),
        lines=[Line(what, reverse(name), about) for what, name, about in doors],
        empty="",
        total=len(doors),
    )
