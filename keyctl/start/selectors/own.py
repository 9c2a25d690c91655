"""What is everybody's own: the keys in their hands, what they asked for, what they are to sign."""

from datetime import timedelta
from uuid import UUID

from django.db.models import Case, F, IntegerField, Q, QuerySet, Value, When
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.counts.access import own_counts
from keyctl.counts.models import CabinetHandover, Count
from keyctl.keys.models import Custody, Holder
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import day_words, due_mark, since_words

State = KeyRequest.State
OPEN = (State.ASKED, State.APPROVED, State.READY)
SETTLED = (State.REFUSED, State.HANDED_OUT, State.LAPSED)
TOLD_FOR = timedelta(days=14)
TONES = {State.ASKED: Tone.WAIT, State.APPROVED: Tone.INFO, State.READY: Tone.GOOD, State.REFUSED: Tone.BAD}


def keys(morning: Morning) -> Block:
    """In hand now: what is due back first."""
    rows = Custody.objects.filter(holder__in=_holders(morning.actor), ended_at__isnull=True)
    shown = list(
        rows.select_related("copy__symbol", "copy__site", "holder").order_by(
            F("due_at").asc(nulls_last=True), "out_at", "pk"
        )[:SHOWN]
    )
    more = Act(_("All my keys"), reverse("keys:holder", args=[shown[0].holder_id])) if shown else None
    return Block(
        question=_("Which keys do you have?"),
        lines=[_key_line(each, morning) for each in shown],
        empty=_("The register has no key with you."),
        total=counted(rows),
        more=more,
    )


def _holders(actor: User) -> list[UUID]:
    """By their sign-in, or as a person brought in from elsewhere: each by its index."""
    own = Holder.objects.filter(user=actor).order_by().values_list("pk", flat=True)
    return list(own.union(Holder.objects.filter(person__user=actor).order_by().values_list("pk", flat=True)))


def _key_line(line: Custody, morning: Morning) -> Line:
    page = reverse("keys:holder", args=[line.holder_id])
    day = timezone.localdate(line.due_at) if line.due_at else None
    due = _("due back {day}").format(day=line.due_words) if line.due_at else _("to keep until you go")
    return Line(
        what=_("Key {key}, copy {serial}").format(key=line.copy.symbol, serial=line.copy),
        url=page,
        about=_("{site}, {due}").format(site=line.copy.site, due=due),
        mark=due_mark(day, morning.today) if day else None,
    )


def requests(morning: Morning) -> Block:
    """Those that are open, then what was decided in the last two weeks."""
    rows = _requests(morning)
    is_open = Case(When(state__in=OPEN, then=Value(0)), default=Value(1), output_field=IntegerField())
    shown = rows.select_related("building", "holder").order_by(is_open, "-asked_at", "pk")[:SHOWN]
    return Block(
        question=_("How far are your requests?"),
        lines=[_request_line(each, morning) for each in shown],
        empty=_("You have asked for no key lately."),
        total=counted(rows),
        more=Act(_("All my requests"), reverse("approvals:list")),
    )


def _requests(morning: Morning) -> QuerySet[KeyRequest]:
    lately = morning.now - TOLD_FOR
    settled = Q(state__in=SETTLED) & Q(decided_at__gte=lately)
    mine = Q(requester=morning.actor) | Q(holder_user=morning.actor)
    return KeyRequest.objects.filter(mine, Q(state__in=OPEN) | settled)


def _request_line(request: KeyRequest, morning: Morning) -> Line:
    page = reverse("approvals:detail", args=[request.pk])
    tone = TONES.get(State(request.state), Tone.INFO)
    act = Act(_("How to collect it"), page, str(request.building)) if request.state == State.READY else None
    return Line(
        what=_("A key in {building} for {holder}").format(building=request.building, holder=request.holder),
        url=page,
        about=_("Asked {when}").format(when=since_words(request.asked_at, morning.now)),
        mark=Mark(tone, request.get_state_display()),
        act=act,
    )


def to_sign(morning: Morning) -> Block | None:
    """Counts of one's own keys and cabinets that change hands; not a word where there is nothing."""
    lines = [_own_count_line(each, morning) for each in own_counts(morning.actor).order_by("due_on")[:SHOWN]]
    lines += [_handover_line(each) for each in _own_handovers(morning)[:SHOWN]]
    if not lines:
        return None
    return Block(
        question=_("What must you say or sign?"),
        lines=lines[:SHOWN],
        empty="",
        total=len(lines),
        more=Act(_("Counts of my keys"), reverse("counts:mine")),
    )


def _own_count_line(count: Count, morning: Morning) -> Line:
    page = reverse("counts:declare", args=[count.pk])
    return Line(
        what=_("Say which keys you have"),
        url=page,
        about=_("{site}, by {day}").format(site=count.site, day=day_words(count.due_on))
        if count.due_on
        else str(count.site),
        mark=due_mark(count.due_on, morning.today) if count.due_on else None,
        act=Act(_("Say it"), page, str(count)),
    )


def _own_handovers(morning: Morning) -> QuerySet[CabinetHandover]:
    mine = Q(giver=morning.actor, giver_signed_at=None) | Q(taker=morning.actor, taker_signed_at=None)
    rows = CabinetHandover.objects.filter(mine, done_at__isnull=True)
    return rows.select_related("cabinet__site").order_by("made_at")


def _handover_line(handover: CabinetHandover) -> Line:
    page = reverse("counts:handover", args=[handover.pk])
    return Line(
        what=_("Sign for {cabinet}").format(cabinet=handover.cabinet),
        url=page,
        about=str(handover.cabinet.site),
        mark=Mark(Tone.WAIT, _("Your signature")),
        act=Act(_("Sign"), page, str(handover.cabinet)),
    )
