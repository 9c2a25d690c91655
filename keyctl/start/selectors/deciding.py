"""What waits for a decision, and what each would open; who stands in for whom; what waits too long."""

from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.approvals.deciders import current_steps, decidable_steps, managed_buildings
from keyctl.approvals.glance import MOST_READ, Glance, glances
from keyctl.approvals.models import Step, Substitute
from keyctl.approvals.waiting import own_decisions
from keyctl.lib.language import in_sentence
from keyctl.lib.numbers import as_number
from keyctl.places.roles import STAFF, Role
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import day_words, doors_words, since_words

DECIDING = (Role.MANAGER, Role.OFFICER)
# A rule may name anybody of the staff.
MAY_DECIDE = (*DECIDING, *(role for role in STAFF if role not in {*DECIDING, Role.INTEGRATION}))
MANY_DOORS = 20


def decisions(morning: Morning) -> Block | None:
    """Longest waiting first. Who is no manager and no officer hears of it only when something waits."""
    waiting = decidable_steps(morning.actor)
    shown = list(own_decisions(morning.actor)[:SHOWN])
    if not shown and not morning.roles & set(DECIDING):
        return None
    seen = glances(shown)
    return Block(
        question=_("What waits for your decision?"),
        lines=[_decision_line(step, seen[step.pk], morning) for step in shown],
        empty=_("No decision waits for you."),
        total=counted(waiting),
        more=Act(_("All decisions"), reverse("approvals:decisions")),
    )


def _decision_line(step: Step, glance: Glance, morning: Morning) -> Line:
    request = step.request
    page = reverse("approvals:detail", args=[request.pk])
    asked = _("{person} asks for {doors} in {building}").format(
        person=request.requester, doors=doors_words(glance.asked), building=request.building
    )
    return Line(
        what=_("A key for {holder}").format(holder=request.holder),
        url=page,
        about=f"{asked}. {effect_words(glance)}",
        mark=_effect_mark(step, glance, morning),
        act=Act(_("Decide"), page, str(request.holder)),
    )


def effect_words(glance: Glance) -> str:
    """What the key would open, and how much of that is of a high class."""
    if not glance.symbols:
        return _("No single key opens them all.")
    names = ", ".join(symbol.symbol for symbol in glance.symbols)
    said = _("The lowest single key for it, {keys}, opens {doors}")
    if glance.are_chosen:
        said = _("The chosen {keys} would open {doors}")
    if glance.doors is None:
        doors = _("more than {count} doors").format(count=as_number(MOST_READ))
        return said.format(keys=names, doors=doors) + "."
    return said.format(keys=names, doors=doors_words(glance.doors)) + _grave_words(glance) + "."


def _grave_words(glance: Glance) -> str:
    graver = []
    if glance.critical:
        words = ngettext("{count} critical", "{count} critical", glance.critical)
        graver.append(words.format(count=glance.critical))
    if glance.restricted:
        words = ngettext("{count} restricted", "{count} restricted", glance.restricted)
        graver.append(words.format(count=glance.restricted))
    return _(", among them {classes}").format(classes=", ".join(graver)) if graver else ""


def _effect_mark(step: Step, glance: Glance, morning: Morning) -> Mark:
    if glance.critical:
        return Mark(Tone.BAD, _("Opens critical doors"))
    if glance.doors is None or glance.doors - glance.asked >= MANY_DOORS:
        return Mark(Tone.WARN, _("Opens much more"))
    if step.due_at and step.due_at < morning.now:
        return Mark(Tone.WARN, _("Past its term"))
    since = since_words(step.since, morning.now) if step.since else ""
    return Mark(Tone.WAIT, _("Asked {when}").format(when=since))


def late_requests(morning: Morning) -> Block:
    """Past their term and decided by others: in one's buildings, and for officers at one's sites."""
    late = _others_late(morning).order_by("due_at", "pk")
    shown = late.select_related("request__building__site", "request__holder", "request__requester")[:SHOWN]
    return Block(
        question=_("Which requests wait longer than they should?"),
        lines=[_late_line(step, morning) for step in shown],
        empty=_("No request of others is past its term."),
        total=counted(late),
        more=Act(_("All decisions"), reverse("approvals:decisions")),
    )


def _others_late(morning: Morning) -> QuerySet[Step]:
    late = current_steps().filter(due_at__lt=morning.now)
    read = Q(request__building__in=managed_buildings(morning.actor).values("pk"))
    read |= Q(request__building__site__in=morning.at(Role.OFFICER))
    return late.filter(read).exclude(pk__in=decidable_steps(morning.actor).values("pk"))


def _late_line(step: Step, morning: Morning) -> Line:
    request = step.request
    page = reverse("approvals:detail", args=[request.pk])
    since = since_words(step.since, morning.now) if step.since else ""
    return Line(
        what=_("A key for {holder}").format(holder=request.holder),
        url=page,
        about=_("{building}, waits for {whom}, asked {when}").format(
            building=request.building, whom=in_sentence(step.label), when=since
        ),
        mark=Mark(Tone.WARN, _("Past its term")),
        act=Act(_("Look"), page, str(request.holder)),
    )


def substitutes(morning: Morning) -> Block:
    """In force today: for the person, and by the person for others."""
    mine = Q(person=morning.actor) | Q(stands_in=morning.actor)
    rows = Substitute.objects.in_force().filter(mine, site__in=morning.at(*DECIDING)).order_by("until", "pk")
    shown = rows.select_related("site", "building", "person", "stands_in")[:SHOWN]
    return Block(
        question=_("Who stands in today?"),
        lines=[_substitute_line(each, morning) for each in shown],
        empty=_("Nobody stands in for you, and you stand in for nobody."),
        total=counted(rows),
        more=Act(_("All substitutes"), reverse("approvals:substitutes")),
    )


def _substitute_line(each: Substitute, morning: Morning) -> Line:
    where = each.building or each.site
    until = day_words(each.until)
    if each.person_id == morning.actor.pk:
        what = _("{person} stands in for you").format(person=each.stands_in)
    else:
        what = _("You stand in for {person}").format(person=each.person)
    return Line(
        what=what,
        url=reverse("approvals:substitutes"),
        about=_("At {place}, until {day}").format(place=where, day=until),
    )
