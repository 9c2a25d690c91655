"""A copy is lost, or found again: its case is opened, extended, or told, in the same transaction."""

from collections import defaultdict
from collections.abc import Sequence

from django.db import IntegrityError, transaction
from django.db.models import Exists, Max, OuterRef
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english
from keyctl.losses.access import REPORTERS
from keyctl.losses.lost import suffices
from keyctl.losses.models import LossCase, LostCopy
from keyctl.losses.services.locking import tell
from keyctl.losses.services.looking import look_unasked
from keyctl.losses.services.telling import tell_found, tell_lost
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.recovery.services.wording import refuse_cuts

NUMBER_ATTEMPTS = 50
LONGEST_NOTE = 400

State = LossCase.State


def copies_lost(actor: User, copies: Sequence[KeyCopy], note: str) -> None:
    """What ``keys.losing`` tells: who reported it had the role for that."""
    _refuse_cuts(copies, note)
    by_site: dict[Site, list[KeyCopy]] = defaultdict(list)
    for copy in copies:
        by_site[copy.site].append(copy)
    for site, lost in by_site.items():
        _lost_at(actor, site, lost, note)


def copies_found(actor: User, copies: Sequence[KeyCopy], note: str) -> None:
    """What ``keys.finding`` tells. A found key may have been copied: somebody decides about the case."""
    _refuse_cuts(copies, note)
    rows = LostCopy.objects.filter(copy__in=copies, found_at__isnull=True)
    for row in rows.select_related("case__site", "copy__symbol"):
        row.found_at = timezone.now()
        row.save(update_fields=["found_at"])
        case = LossCase.objects.select_for_update().get(pk=row.case_id)
        save_next(case)
        words = f"copy {row.copy} of {row.copy.symbol} is found; it may have been copied meanwhile"
        tell(actor, case, "found", f"{in_english(case)}: {words}", [row.copy], note=note[:LONGEST_NOTE])
        if case.is_unfinished:
            look_unasked(actor, case)
            tell_found(case, row)


@transaction.atomic
def take_up(*, actor: User, copy: KeyCopy) -> LossCase:
    """A case for the copies of a key that were lost at this site before there was one."""
    require_role(actor, copy.site, *REPORTERS)
    Site.objects.select_for_update().get(pk=copy.site_id)
    told = LostCopy.objects.filter(copy=OuterRef("pk"), found_at__isnull=True)
    lost = KeyCopy.objects.filter(symbol=copy.symbol_id, site=copy.site_id, state=KeyCopy.State.LOST)
    copies = list(lost.filter(~Exists(told)).with_names().order_by("serial"))
    if copy not in copies:
        raise Conflict(
            gettext("Copy {copy} stands in a case already, or is lost no more. Look again.").format(copy=copy)
        )
    _lost_at(actor, copy.site, copies, "")
    return LossCase.objects.with_names().get(lost_copies__copy=copy, lost_copies__found_at__isnull=True)


@transaction.atomic
def open_case(*, actor: User, site: Site, note: str) -> LossCase:
    """The next number. Where two take the same one the database lets one through; the other tries again."""
    for _ in range(NUMBER_ATTEMPTS):
        last = LossCase.objects.aggregate(last=Max("number"))["last"] or 0
        try:
            with transaction.atomic():
                return LossCase.objects.create(
                    number=last + 1, site=site, opened_by=actor, note=note[:LONGEST_NOTE]
                )
        except IntegrityError:
            continue
    raise Conflict(gettext("Many losses are being reported at this moment. Nothing was reported; try again."))


def _refuse_cuts(copies: Sequence[KeyCopy], note: str) -> None:
    """The note stands in history and in the report of the case."""
    for format_id in {copy.symbol.system.format_id for copy in copies}:
        refuse_cuts(note, format_id)


def _lost_at(actor: User, site: Site, copies: list[KeyCopy], note: str) -> None:
    """Copies of a key that an unfinished case has already join it; the others share one case."""
    # Who reports a loss at the site waits here, so that two copies of one key come into one case.
    Site.objects.select_for_update().get(pk=site.pk)
    groups: dict[LossCase | None, list[KeyCopy]] = defaultdict(list)
    for copy in copies:
        groups[_case_with(copy, site)].append(copy)
    fresh = groups.pop(None, [])
    for case, joining in groups.items():
        if case is not None:
            _extend(actor, case, joining, note)
    if fresh:
        _extend(actor, open_case(actor=actor, site=site, note=note), fresh, note)


def _case_with(copy: KeyCopy, site: Site) -> LossCase | None:
    with_key = LostCopy.objects.filter(symbol=copy.symbol).values("case")
    cases = LossCase.objects.select_for_update(of=("self",)).unfinished().with_names()
    return cases.filter(site=site, pk__in=with_key).order_by("number").first()


def _extend(actor: User, case: LossCase, copies: list[KeyCopy], note: str) -> None:
    is_new = not case.lost_copies.exists()
    LostCopy.objects.bulk_create([_lost(case, copy) for copy in copies])
    case.has_master = case.has_master or any(suffices(copy.symbol) for copy in copies)
    # A proof was of the copies known then; the bitting is the same, but what is due is not.
    save_next(case, "has_master")
    named = ", ".join(f"{copy} of {copy.symbol}" for copy in copies)
    told = in_english(case)
    words = f"opened {told} for copy {named}" if is_new else f"{told}: copy {named} is lost as well"
    verb = "opened" if is_new else "extended"
    tell(actor, case, verb, words[:400], copies, note=note[:LONGEST_NOTE])
    look_unasked(actor, case)
    tell_lost(case, copies, is_new=is_new)


def _lost(case: LossCase, copy: KeyCopy) -> LostCopy:
    """With whoever had it when it went; a copy that went out of a cabinet had nobody."""
    last = Custody.objects.filter(copy=copy).order_by("-out_at").select_related("holder").first()
    if last is None or last.ending != Custody.Ending.LOST:
        return LostCopy(case=case, copy=copy, symbol=copy.symbol)
    return LostCopy(
        case=case,
        copy=copy,
        symbol=copy.symbol,
        holder=last.holder,
        last_with=str(last.holder),
        lost_at=last.ended_at or timezone.now(),
    )
