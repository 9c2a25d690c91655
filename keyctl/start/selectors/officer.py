"""What a security officer answers for: losses, looks that wait, the proof of the estate, what is exposed."""

from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.cores.models import Core
from keyctl.counts.models import CountCase
from keyctl.exposure.models import CoreExposure
from keyctl.keys.models import KeyCopy
from keyctl.losses.figures import Figures
from keyctl.losses.models import LossCase, LossReport
from keyctl.places.roles import Role
from keyctl.proofs.models import Finding, Proof
from keyctl.reveals.models import Permission
from keyctl.reveals.selectors import waiting_for
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import doors_words, since_words

WATCHING = (Role.OFFICER, Role.AUDITOR)
CONFIRMING = (Role.KEY_DESK, Role.OFFICER)
OLD_PROOF_DAYS = 30
MOST_EXPOSED = 3


def losses(morning: Morning) -> Block:
    """Unfinished cases with what is still due at the officer's sites."""
    cases = LossCase.objects.at_sites(morning.sites_of(Role.OFFICER)).unfinished()
    mine = {str(pk) for pk in morning.at(Role.OFFICER)}
    shown = cases.select_related("site").order_by("number")[:SHOWN]
    return Block(
        question=_("Which losses are open?"),
        lines=[_loss_line(case, mine) for case in shown],
        empty=_("No loss is open."),
        total=counted(cases),
        more=Act(_("All losses"), reverse("losses:list")),
    )


def _loss_line(case: LossCase, sites: set[str]) -> Line:
    figures = Figures.of(case)
    open_now = figures.count(lambda cell: cell.is_exposed and cell.in_door and cell.site in sites)
    due = figures.count(lambda cell: cell.is_exposed and cell.is_due and cell.site in sites)
    page = reverse("losses:detail", args=[case.pk])
    words = _("{site} · {state} · still opens {doors}").format(
        site=case.site, state=case.get_state_display(), doors=doors_words(open_now)
    )
    due_words = ngettext("{count} door due", "{count} doors due", due).format(count=due)
    mark = Mark(Tone.BAD, due_words) if due else Mark(Tone.WAIT, _("Nothing due"))
    act = Act(_("Choose a plan"), reverse("losses:plans", args=[case.pk]), str(case))
    if case.state != LossCase.State.OPEN:
        act = Act(_("Go on"), page, str(case))
    return Line(str(case), page, words, mark, act)


def reports(morning: Morning) -> Block:
    """A key is not lost before the desk or an officer says so, and nobody confirms their own report."""
    here = KeyCopy.objects.filter(pk=OuterRef("copy"), site__in=morning.at(*CONFIRMING))
    told = LossReport.objects.filter(Exists(here), state=LossReport.State.WAITING)
    told = told.exclude(reported_by=morning.actor)
    shown = told.select_related("copy__symbol", "copy__site", "holder").order_by("reported_at", "pk")[:SHOWN]
    return Block(
        question=_("Who says that a key is lost?"),
        lines=[_report_line(each, morning) for each in shown],
        empty=_("Nobody reports a lost key."),
        total=counted(told),
        more=Act(_("All losses"), reverse("losses:list")),
    )


def _report_line(report: LossReport, morning: Morning) -> Line:
    page = reverse("losses:report", args=[report.pk])
    return Line(
        what=str(report.holder),
        url=page,
        about=_("Key {key}, copy {serial} of {site}, told {when}").format(
            key=report.copy.symbol,
            serial=report.copy,
            site=report.copy.site,
            when=since_words(report.reported_at, morning.now),
        ),
        mark=Mark(Tone.BAD, _("Not confirmed")),
        act=Act(_("Confirm or refuse"), page, str(report.holder)),
    )


def looks(morning: Morning) -> Block:
    """Nobody decides what they asked for themselves."""
    waiting = waiting_for(morning.actor)
    return Block(
        question=_("Which looks wait for a second person?"),
        lines=[_look_line(each, morning) for each in waiting[:SHOWN]],
        empty=_("Nobody waits to look at a secret."),
        total=counted(waiting),
        more=Act(_("All looks"), reverse("reveals:home")),
    )


def _look_line(permission: Permission, morning: Morning) -> Line:
    page = reverse("reveals:permission", args=[permission.pk])
    return Line(
        what=permission.said,
        url=page,
        about=_("{person} at {site}, asked {when}").format(
            person=permission.asked_by,
            site=permission.site,
            when=since_words(permission.asked_at, morning.now),
        ),
        mark=Mark(Tone.WAIT, _("Waits for you")),
        act=Act(_("Decide"), page, permission.said),
    )


def proof(morning: Morning) -> Block:
    """The last proof that was finished of what one watches over, and what is new in it."""
    sites = morning.at(*WATCHING)
    last = last_proof(morning)
    lines, total = [], 0
    if last:
        new = _new(last, sites).select_related("symbol", "core").defer("symbol__bitting", "core__pinning")
        lines = [_proof_line(last, sites, morning), *(_finding_line(each) for each in new[: SHOWN - 1])]
        total = 1 + counted(new)
    return Block(
        question=_("Do keys and cores hold to the plan?"),
        lines=lines,
        empty=_("Nothing was ever proven: nobody knows whether every key does what the plan says."),
        total=total,
        more=Act(_("All proofs"), reverse("proofs:list")),
    )


def last_proof(morning: Morning) -> Proof | None:
    """Of the estate, or of a site or a system that the person watches over."""
    sites = morning.sites_of(*WATCHING).values("pk")
    of_all = Q(site__isnull=True, system__isnull=True)
    done = Proof.objects.filter(of_all | Q(site__in=sites) | Q(system__sites__in=sites))
    done = done.filter(finished_at__isnull=False).select_related("site", "system")
    return done.order_by("-finished_at", "pk").first()


def _new(last: Proof, sites: list[UUID]) -> QuerySet[Finding]:
    return Finding.objects.filter(proof=last, site__in=sites, is_new=True)


def _proof_line(last: Proof, sites: list[UUID], morning: Morning) -> Line:
    page = reverse("proofs:detail", args=[last.pk])
    found = counted(Finding.objects.filter(proof=last, site__in=sites))
    old = (morning.now - (last.finished_at or morning.now)).days > OLD_PROOF_DAYS
    if found:
        words = ngettext("{count} finding", "{count} findings", found).format(count=found)
        mark = Mark(Tone.WARN, words)
    else:
        mark = Mark(Tone.WAIT, _("Old")) if old else Mark(Tone.GOOD, _("As planned"))
    return Line(
        what=_("Proof of {what}").format(what=last.of),
        url=page,
        about=_("Finished {when}").format(when=since_words(last.finished_at or morning.now, morning.now)),
        mark=mark,
        act=Act(_("Prove again") if old else _("Look"), reverse("proofs:list") if old else page, last.of),
    )


def _finding_line(finding: Finding) -> Line:
    page = f"{reverse('proofs:detail', args=[finding.proof_id])}?view=new"
    return Line(
        what=_("Key {key} on core {core}").format(key=finding.symbol, core=finding.core),
        url=page,
        about=f"{finding.get_kind_display()}. {finding.get_cause_display()}.",
        mark=Mark(Tone.WARN, _("New")),
    )


def exposure(morning: Morning) -> Block:
    """The cores that let in most, as they were assessed last."""
    here = Core.objects.filter(pk=OuterRef("core"), site__in=morning.at(Role.OFFICER))
    rows = CoreExposure.objects.filter(Exists(here.exclude(place=Core.Place.GONE)), near_withdrawing__gt=0)
    rows = rows.order_by("-accepts", "core_id")
    shown = rows.select_related("core__site", "core__housing__door__floor__building").defer("core__pinning")
    return Block(
        question=_("Which cores are exposed?"),
        lines=[_exposed_line(each) for each in shown[:MOST_EXPOSED]],
        empty=_("No core that was assessed comes out by one wrong cut."),
        total=counted(rows),
        more=Act(_("Exposure of the estate"), reverse("exposure:estate")),
    )


def _exposed_line(found: CoreExposure) -> Line:
    page = reverse("exposure:core", args=[found.core_id])
    near = ngettext(
        "{count} key nearly takes it out", "{count} keys nearly take it out", found.near_withdrawing
    ).format(count=found.near_withdrawing)
    return Line(
        what=_("Core {core}").format(core=found.core),
        url=page,
        about=_("{place} · {near}").format(place=found.core.whereabouts.capitalize(), near=near),
        mark=Mark(Tone.WARN, _("Exposed")),
        act=Act(_("Look"), page, str(found.core)),
    )


def differences(morning: Morning) -> Block:
    """What counts found and nobody has closed yet, oldest first."""
    cases = CountCase.objects.filter(count__site__in=morning.at(*WATCHING)).exclude(
        state=CountCase.State.CLOSED
    )
    shown = cases.select_related("count__site", "copy__symbol").order_by("opened_at", "pk")[:SHOWN]
    return Block(
        question=_("Which differences of counts are open?"),
        lines=[_difference_line(case, morning) for case in shown],
        empty=_("Every difference of a count is closed."),
        total=counted(cases),
        more=Act(_("All differences"), f"{reverse('counts:list')}?show=cases"),
    )


def _difference_line(case: CountCase, morning: Morning) -> Line:
    page = reverse("counts:case", args=[case.pk])
    is_open = case.state == CountCase.State.OPEN
    return Line(
        what=_("{serial}: {kind}").format(serial=case.label, kind=case.get_kind_display()),
        url=page,
        about=_("{count} at {site}, found {when}").format(
            count=case.count, site=case.count.site, when=since_words(case.opened_at, morning.now)
        ),
        mark=Mark(Tone.WARN, _("Not explained")) if is_open else Mark(Tone.WAIT, _("To be closed")),
        act=Act(_("Look"), page, case.label),
    )
