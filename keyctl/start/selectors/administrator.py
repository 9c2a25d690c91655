"""What an administrator sees to: lists half brought in, places half written down, mail, webhooks, people."""

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.accounts.models import User
from keyctl.imports.access import visible_imports
from keyctl.imports.models import Import
from keyctl.notices.models import Notice
from keyctl.places.models import Building, BuildingManager, Door, Membership
from keyctl.places.roles import Role
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.wording import day_words, since_words
from keyctl.webhooks.access import visible_endpoints
from keyctl.webhooks.models import Delivery, Endpoint

ADMINISTRATOR = Role.ADMINISTRATOR


def imports(morning: Morning) -> Block:
    """Files that were brought in and not taken: the newest first."""
    rows = visible_imports(morning.actor).filter(
        site__in=morning.at(ADMINISTRATOR), state__in=[Import.State.UPLOADED, Import.State.CHECKED]
    )
    shown = rows.order_by("-uploaded_at", "pk")[:SHOWN]
    return Block(
        question=_("Which imports are unfinished?"),
        lines=[_import_line(each, morning) for each in shown],
        empty=_("No import waits to be taken."),
        total=counted(rows),
        more=Act(_("All imports"), reverse("imports:list")),
    )


def _import_line(imported: Import, morning: Morning) -> Line:
    page = reverse("imports:detail", args=[imported.pk])
    errors = imported.errors
    words = ngettext("{count} error", "{count} errors", errors).format(count=errors)
    return Line(
        what=imported.name,
        url=page,
        about=_("For {site}, brought {when} by {person}").format(
            site=imported.site,
            when=since_words(imported.uploaded_at, morning.now),
            person=imported.uploaded_by,
        ),
        mark=Mark(Tone.WARN, words) if errors else Mark(Tone.WAIT, imported.get_state_display()),
        act=Act(_("Go on"), page, imported.name),
    )


def places(morning: Morning) -> Block:
    """Buildings without a door, and those for which nobody decides about keys."""
    buildings = _unfinished_buildings(morning)
    shown = buildings.select_related("site").order_by("site__code", "code")[:SHOWN]
    return Block(
        question=_("Which places are not finished?"),
        lines=[_building_line(each) for each in shown],
        empty=_("Every building has doors, and people who decide about its keys."),
        total=counted(buildings),
        more=Act(_("All places"), reverse("places:list")),
    )


def _unfinished_buildings(morning: Morning) -> QuerySet[Building]:
    deciding = Membership.objects.filter(
        user=OuterRef("user"), site=OuterRef("building__site"), role=Role.MANAGER, user__is_active=True
    )
    managers = BuildingManager.objects.filter(Exists(deciding), building=OuterRef("pk"))
    doors = Door.objects.filter(floor__building=OuterRef("pk"))
    buildings = Building.objects.filter(site__in=morning.at(ADMINISTRATOR))
    buildings = buildings.annotate(has_doors=Exists(doors), has_managers=Exists(managers))
    return buildings.filter(Q(has_doors=False) | Q(has_managers=False))


def _building_line(building: Building) -> Line:
    page = reverse("places:building", args=[building.pk])
    missing = []
    if not building.has_doors:  # type: ignore[attr-defined]
        missing.append(_("No door is written down."))
    if not building.has_managers:  # type: ignore[attr-defined]
        missing.append(_("Nobody decides about requests for keys."))
    return Line(
        what=f"{building.code} {building.name}",
        url=page,
        about=" ".join([f"{building.site}.", *missing]),
        mark=Mark(Tone.WAIT, _("Unfinished")),
        act=Act(_("Complete it"), page, building.name),
    )


def mail(morning: Morning) -> Block:
    """What could not be sent, the newest first."""
    failed = Notice.objects.filter(site__in=morning.at(ADMINISTRATOR), state=Notice.State.FAILED)
    shown = failed.select_related("site").defer("body").order_by("-written_at", "pk")[:SHOWN]
    return Block(
        question=_("Which mail did not go out?"),
        lines=[_mail_line(each, morning) for each in shown],
        empty=_("All mail went out."),
        total=counted(failed),
        more=Act(_("All mail"), f"{reverse('notices:list')}?state={Notice.State.FAILED}"),
    )


def _mail_line(notice: Notice, morning: Morning) -> Line:
    page = reverse("notices:detail", args=[notice.pk])
    return Line(
        what=notice.subject,
        url=page,
        about=_("{site}, written {when}").format(
            site=notice.site, when=since_words(notice.written_at, morning.now)
        ),
        mark=Mark(Tone.BAD, _("Not sent")),
        act=Act(_("Look why"), page, notice.subject),
    )


def webhooks(morning: Morning) -> Block:
    """Endpoints that were put to rest, and messages that were given up: by endpoint."""
    given_up = Delivery.objects.filter(endpoint=OuterRef("pk"), state=Delivery.State.FAILED)
    ailing = visible_endpoints(morning.actor).filter(
        Q(state=Endpoint.State.RESTING) | Exists(given_up), ~Q(state=Endpoint.State.OFF)
    )
    return Block(
        question=_("Which webhooks fail?"),
        lines=[_webhook_line(each) for each in ailing.order_by("name", "pk")[:SHOWN]],
        empty=_("No webhook fails."),
        total=counted(ailing),
        more=Act(_("All webhooks"), reverse("webhooks:list")),
    )


def _webhook_line(endpoint: Endpoint) -> Line:
    page = reverse("webhooks:detail", args=[endpoint.pk])
    rests = endpoint.state == Endpoint.State.RESTING
    return Line(
        what=endpoint.name,
        url=page,
        about=_("Messages were given up; they stand in its log."),
        mark=Mark(Tone.BAD, _("At rest")) if rests else Mark(Tone.WARN, _("Given up")),
        act=Act(_("Look why"), page, endpoint.name),
    )


def newcomers(morning: Morning) -> Block:
    """Who was let in and has never been here."""
    rows = (
        User.objects.filter(is_active=True, last_login__isnull=True)
        .filter(memberships__site__in=morning.at(ADMINISTRATOR))
        .exclude(memberships__role=Role.INTEGRATION)
        .distinct()
    )
    return Block(
        question=_("Who has never signed in?"),
        lines=[_newcomer_line(each) for each in rows.order_by("joined_at", "pk")[:SHOWN]],
        empty=_("Everybody who may sign in has done so."),
        total=counted(rows),
        more=Act(_("People and roles"), reverse("places:people")),
    )


def _newcomer_line(user: User) -> Line:
    return Line(
        what=str(user),
        url=reverse("places:people"),
        about=_("Let in on {day}").format(day=day_words(user.joined_at)),
        mark=Mark(Tone.WAIT, _("Never here")),
    )
