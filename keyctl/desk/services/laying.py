"""A scan or a typed word at the desk: it names a key, or somebody, and lands on the tray."""

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.desk.models import Tray, TrayLine
from keyctl.desk.remarks import views_of
from keyctl.desk.scanning import Heard, Meaning, Taker, read_scan
from keyctl.desk.services.tray import held_tray, lay, undo_last
from keyctl.keys.models import Cabinet, Handover, Holder, KeyCopy
from keyctl.keys.services import take_found
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.places.models import Site

Way = Handover.Way
# Some of its keys may lie ready while others are still being cut.
COLLECTED_IN = (KeyRequest.State.APPROVED, KeyRequest.State.READY)
# Typed instead of a serial, it takes the last key off again: no hand leaves the keyboard.
UNDO = "-"


@transaction.atomic
def scan(*, actor: User, site: Site, way: str, text: str) -> Heard:
    """Refused with the reason where it cannot go on the tray; nothing on it is lost by that."""
    tray = held_tray(actor, site, way)
    if text.strip() == UNDO:
        return undo_last(actor=actor, site=site, way=way)
    meaning = read_scan(site, text)
    if meaning.trouble:
        raise Refused(meaning.trouble)
    if meaning.copy:
        return _lay_copy(tray, meaning.copy)
    return _hear_of_people(tray, meaning)


def _hear_of_people(tray: Tray, meaning: Meaning) -> Heard:
    if tray.way == Way.BACK:
        raise Refused(_("Keys come back without a name: scan the keys. Who brought them is typed below."))
    if len(meaning.takers) == 1:
        return _give_to(tray, meaning.takers[0])
    return Heard(
        _("{takers} people answer to that. Choose one.").format(takers=len(meaning.takers)),
        takers=meaning.takers,
    )


def _lay_copy(tray: Tray, copy: KeyCopy) -> Heard:
    if tray.lines.filter(copy=copy).exists():
        raise Refused(_("{copy} is on the list already.").format(copy=copy))
    request = _waiting_request(tray, copy)
    if request and not tray.taker:
        _give_to(tray, request.holder)
    # Looked at as the page would show it, before it is written.
    (view,) = views_of(tray, [TrayLine(tray=tray, copy=copy, request=request)])
    if blocks := [remark.words for remark in view.remarks if remark.blocks]:
        if tray.way == Way.OUT and copy.state == KeyCopy.State.LOST:
            return Heard(blocks[0], found=copy)
        raise Refused(blocks[0])
    lay(tray, copy, request)
    remarks = "; ".join(remark.words for remark in view.remarks)
    words = f"{copy}, {copy.symbol}{': ' + remarks if remarks else ''}."
    return Heard(_("{words} Keys on the list: {count}.").format(words=words, count=tray.lines.count()))


def _waiting_request(tray: Tray, copy: KeyCopy) -> KeyRequest | None:
    """The request of the taker that this very copy is set aside for; without a taker, of whomever."""
    if tray.way != Way.OUT or tray.person:
        return None
    grants = Grant.objects.filter(
        reserved_copy=copy, request__holder__site=tray.site, request__state__in=COLLECTED_IN
    )
    if tray.holder:
        grants = grants.filter(request__holder=tray.holder)
    grant = grants.select_related("request__requester", "request__holder").first()
    return grant.request if grant else None


@transaction.atomic
def choose_taker(*, actor: User, site: Site, way: str, taker: Taker) -> Heard:
    tray = held_tray(actor, site, way)
    if isinstance(taker, Holder) and taker.site_id != site.pk:
        raise Refused(
            _("{taker} is a holder at {site}. Choose somebody of {site_2}.").format(
                taker=taker, site=taker.site, site_2=site
            )
        )
    return _give_to(tray, taker)


def _give_to(tray: Tray, taker: Taker) -> Heard:
    """Keys on the counter are somebody's already: the next person's card must not take them over."""
    if tray.taker and tray.taker.pk != taker.pk and tray.lines.exists():
        raise Refused(
            _(
                "These keys are on the list for {taker}. Finish that act, or clear the list, before the one "
                "for {taker_2}."
            ).format(taker=tray.taker, taker_2=taker)
        )
    is_holder = isinstance(taker, Holder)
    tray.holder, tray.person = (taker, None) if isinstance(taker, Holder) else (None, taker)
    save_next(tray, "holder", "person")
    for line in tray.lines.select_related("copy") if is_holder else []:
        line.request = _waiting_request(tray, line.copy)
        line.save(update_fields=["request"])
    new = "" if is_holder else f", who becomes a holder at {tray.site} by this act"
    return Heard(_("For {taker}{new}.").format(taker=taker, new=new))


@transaction.atomic
def lay_ready(*, actor: User, site: Site, request: KeyRequest) -> Heard:
    """All keys that are set aside for a request of the taker, at once."""
    tray = held_tray(actor, site, Way.OUT)
    if request.holder_id != tray.holder_id or request.state not in COLLECTED_IN:
        raise Refused(_("That request is not ready to collect for the person on the list. Look again."))
    there = set(tray.lines.values_list("copy", flat=True))
    set_aside = [grant.reserved_copy for grant in request.grants.select_related("reserved_copy")]
    fresh = [copy for copy in set_aside if copy and copy.pk not in there]
    for copy in fresh:
        lay(tray, copy, request)
    return Heard(
        _("Keys of the request: {fresh} more. Keys on the list: {count}.").format(
            fresh=len(fresh), count=tray.lines.count()
        )
    )


@transaction.atomic
def take_found_key(*, actor: User, site: Site, copy: KeyCopy, cabinet: Cabinet) -> Heard:
    """A lost key is on the counter: first it is found, then it may go out like any other."""
    copy = take_found(actor=actor, copy=copy, cabinet=cabinet, note=_("Scanned at the desk"))
    tray = held_tray(actor, site, Way.OUT)
    return _lay_copy(tray, copy)
