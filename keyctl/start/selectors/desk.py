"""What the key desk has before it: keys due back, keys to collect and to find, counts, leavers, handovers."""

from collections import Counter
from datetime import timedelta

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.approvals.models import KeyRequest
from keyctl.counts.models import CabinetHandover, Count
from keyctl.keys.models import Custody, KeyCopy
from keyctl.leavers.models import LeaverCase
from keyctl.lib.moments import end_of_day
from keyctl.places.roles import Role
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import day_words, due_mark, keys_words, since_words

State = KeyRequest.State
COUNT_WITHIN = timedelta(days=7)
# Nothing is asked for twice: whoever counts and whoever watches over counts read the same block.
COUNTING = (Role.KEY_DESK, Role.OFFICER)


def due_back(morning: Morning) -> Block:
    """Longest overdue first; asked copy by copy, so that the index of due days leads. Hundreds are due at the
    same hour: what is shown of a few is not carried along for all."""
    here = KeyCopy.objects.filter(pk=OuterRef("copy"), site__in=morning.at(Role.KEY_DESK))
    due = Custody.objects.filter(Exists(here), ended_at__isnull=True, due_at__lte=end_of_day(morning.today))
    due = due.order_by("due_at", "pk")
    shown = due.filter(pk__in=due.values("pk")[:SHOWN]).select_related("copy__symbol", "copy__site", "holder")
    return Block(
        question=_("What is due back today?"),
        lines=[_due_line(each, morning) for each in shown],
        empty=_("Nothing is due back today."),
        total=counted(due),
        more=Act(_("All keys out and due"), reverse("keys:desk")),
    )


def _due_line(line: Custody, morning: Morning) -> Line:
    return Line(
        what=str(line.holder),
        url=reverse("keys:holder", args=[line.holder_id]),
        about=_("Key {key}, copy {serial} of {site}, due {day}").format(
            key=line.copy.symbol, serial=line.copy, site=line.copy.site, day=line.due_words
        ),
        mark=_due_mark(line, morning),
        act=Act(_("Take back"), reverse("keys:take-back", args=[line.copy_id]), str(line.copy)),
    )


def _due_mark(line: Custody, morning: Morning) -> Mark | None:
    """By the hour where it was lent by the hour."""
    if line.due_at is None:
        return None
    mark = due_mark(timezone.localdate(line.due_at), morning.today)
    if line.due_at < morning.now and mark and mark.tone != Tone.BAD:
        return Mark(Tone.BAD, _("Late"))
    return mark


def collections(morning: Morning) -> Block:
    """Keys that lie ready: the longest first."""
    rows = KeyRequest.objects.filter(
        building__site__in=morning.at(Role.KEY_DESK), state=State.READY
    ).order_by("ready_at", "pk")
    shown = rows.select_related("holder", "building__site")[:SHOWN]
    return Block(
        question=_("Who comes to collect keys?"),
        lines=[_ready_line(each, morning) for each in shown],
        empty=_("No key waits to be collected."),
        total=counted(rows),
        more=Act(_("Requests at the desk"), reverse("approvals:desk")),
    )


def _ready_line(request: KeyRequest, morning: Morning) -> Line:
    since = since_words(request.ready_at, morning.now) if request.ready_at else ""
    page = reverse("approvals:detail", args=[request.pk])
    return Line(
        what=str(request.holder),
        url=page,
        about=_("{building} at {site}, made ready {when}").format(
            building=request.building, site=request.building.site, when=since
        ),
        act=Act(_("Hand out"), page, str(request.holder)),
    )


def to_make_ready(morning: Morning) -> Block:
    """Decided, and no key set aside yet: the longest waiting first."""
    rows = KeyRequest.objects.filter(
        building__site__in=morning.at(Role.KEY_DESK), state=State.APPROVED
    ).order_by("decided_at", "pk")
    shown = rows.select_related("holder", "building__site")[:SHOWN]
    return Block(
        question=_("Which keys must be made ready?"),
        lines=[_approved_line(each, morning) for each in shown],
        empty=_("Every approved request has its keys."),
        total=counted(rows),
        more=Act(_("Requests at the desk"), reverse("approvals:desk")),
    )


def _approved_line(request: KeyRequest, morning: Morning) -> Line:
    since = since_words(request.decided_at, morning.now) if request.decided_at else ""
    page = reverse("approvals:detail", args=[request.pk])
    starts = request.starts_on
    return Line(
        what=str(request.holder),
        url=page,
        about=_("{building} at {site}, approved {when}").format(
            building=request.building, site=request.building.site, when=since
        ),
        mark=Mark(Tone.WAIT, _("Wanted {day}").format(day=day_words(starts))) if starts else None,
        act=Act(_("Find the keys"), page, str(request.holder)),
    )


def counts(morning: Morning) -> Block:
    """Open counts whose day comes within a week or has passed, and those that run."""
    rows = (
        Count.objects.filter(site__in=morning.at(*COUNTING))
        .filter(Q(state=Count.State.RUNNING) | Q(due_on__lte=morning.today + COUNT_WITHIN))
        .open()
        .order_by("due_on", "opened_at", "pk")
    )
    return Block(
        question=_("What must be counted?"),
        lines=[_count_line(each, morning) for each in rows.with_names()[:SHOWN]],
        empty=_("No count is due within a week."),
        total=counted(rows),
        more=Act(_("All counts"), reverse("counts:list")),
    )


def _count_line(count: Count, morning: Morning) -> Line:
    page = reverse("counts:detail", args=[count.pk])
    runs = count.state == Count.State.RUNNING
    told = str(count.site)
    if count.due_on:
        told = _("{site}, due {day}").format(site=count.site, day=day_words(count.due_on))
    is_counter = count.site_id in morning.at(Role.KEY_DESK)
    label = _("Go on counting") if runs else _("Begin")
    return Line(
        what=_("{count}: {what}").format(count=count, what=count.what),
        url=page,
        about=told,
        mark=_count_mark(count, morning),
        act=Act(label if is_counter else _("Look"), page, str(count)),
    )


def _count_mark(count: Count, morning: Morning) -> Mark | None:
    late = due_mark(count.due_on, morning.today) if count.due_on else None
    if count.state == Count.State.RUNNING and (late is None or late.tone != Tone.BAD):
        return Mark(Tone.INFO, _("Being counted"))
    return late


def leavers(morning: Morning) -> Block:
    """Who has left and has keys still first, then who goes soon."""
    cases = LeaverCase.objects.filter(
        state=LeaverCase.State.OPEN, holder__site__in=morning.at(Role.KEY_DESK)
    ).order_by("leaves_on", "opened_at", "pk")
    shown = list(cases.select_related("holder__site", "holder__person")[:SHOWN])
    out = Counter(
        Custody.objects.filter(
            holder__in=[case.holder_id for case in shown], ended_at__isnull=True
        ).values_list("holder", flat=True)
    )
    return Block(
        question=_("Who leaves with keys?"),
        lines=[_leaver_line(case, out[case.holder_id]) for case in shown],
        empty=_("Nobody leaves with keys."),
        total=counted(cases),
        more=Act(_("All leavers"), reverse("leavers:list")),
    )


def _leaver_line(case: LeaverCase, out: int) -> Line:
    page = reverse("leavers:detail", args=[case.pk])
    has_left = case.has_left
    words = _("{keys} of {site} still out").format(keys=keys_words(out), site=case.holder.site)
    goes = "" if has_left or case.leaves_on is None else day_words(case.leaves_on)
    return Line(
        what=str(case.holder),
        url=page,
        about=words,
        mark=Mark(Tone.BAD, _("Has left"))
        if has_left
        else Mark(Tone.WAIT, _("Goes on {day}").format(day=goes)),
        act=Act(_("Call the keys back"), page, str(case.holder)),
    )


def handovers(morning: Morning) -> Block:
    """Cabinets between two custodians; whose own signature is wanted has them on their own keys' block."""
    rows = CabinetHandover.objects.filter(
        done_at__isnull=True, cabinet__site__in=morning.at(Role.KEY_DESK)
    ).order_by("made_at", "pk")
    shown = rows.select_related("cabinet__site", "giver", "taker")[:SHOWN]
    return Block(
        question=_("Which cabinets change hands?"),
        lines=[_handover_line(each) for each in shown],
        empty=_("No cabinet changes hands."),
        total=counted(rows),
        more=Act(_("All counts"), reverse("counts:list")),
    )


def _handover_line(handover: CabinetHandover) -> Line:
    page = reverse("counts:handover", args=[handover.pk])
    return Line(
        what=str(handover.cabinet),
        url=page,
        about=_("From {giver} to {taker}").format(
            giver=handover.giver or _("nobody"), taker=handover.taker or _("nobody")
        ),
        mark=Mark(Tone.WAIT, _("Not signed by both")),
        act=Act(_("Look"), page, str(handover.cabinet)),
    )
