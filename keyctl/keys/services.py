"""Cutting, handing out, taking back, losing and destroying key copies; each act is a line of history."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import Cabinet, Custody, Holder, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol

MOST_AT_ONCE = 100
State = KeyCopy.State


@transaction.atomic
def cut_copies(*, actor: User, symbol: KeySymbol, site: Site, cabinet: Cabinet, count: int) -> list[KeyCopy]:
    """Copies come from the machine into a cabinet; nobody holds a key that was never in stock."""
    if not 1 <= count <= MOST_AT_ONCE:
        raise Refused(f"Cut between 1 and {MOST_AT_ONCE} copies at a time.")
    if not symbol.system.sites.filter(pk=site.pk).exists():
        raise Refused(f"{symbol.system} is not used at {site}. Choose a key of a system that is.")
    _refuse_cabinet_elsewhere(cabinet, site)
    copies = KeyCopy.objects.bulk_create(
        [KeyCopy(symbol=symbol, site=site, state=State.IN_CABINET, cabinet=cabinet) for _ in range(count)]
    )
    record(
        actor=actor,
        verb="key.cut",
        sentence=f"cut {_copies(count)} of {symbol} ({symbol.system.code}) into {cabinet}",
        site_id=site.pk,
        subjects=[symbol, *copies],
        detail={"count": count},
    )
    return copies


@transaction.atomic
def hand_out(
    *,
    actor: User,
    copy: KeyCopy,
    holder: Holder,
    signed_as: str,
    due_on: date | None = None,
    version: int | None = None,
) -> Custody:
    copy = _locked(copy, version)
    _refuse_copy_not_in_cabinet(copy)
    _refuse_holder(actor, copy, holder)
    if not signed_as.strip():
        raise Refused("Nobody has signed. The person who takes the key types their name.")
    if due_on and due_on < timezone.localdate():
        raise Refused(f"{due_on:%-d %B %Y} is past. Choose a later day to bring the key back.")
    custody = Custody.objects.create(
        copy=copy, holder=holder, handed_out_by=actor, signed_as=signed_as.strip(), due_on=due_on
    )
    _put(copy, State.HELD, holder=holder)
    until = f", due back on {due_on:%-d %B %Y}" if due_on else ""
    sentence = f"handed out copy {copy} of {copy.symbol} to {holder}{until}"
    _tell(actor, copy, "key.handed_out", sentence, holder=holder)
    return custody


@transaction.atomic
def take_back(*, actor: User, copy: KeyCopy, cabinet: Cabinet, version: int | None = None) -> KeyCopy:
    """A held copy comes back, or a lost one was found."""
    copy = _locked(copy, version)
    if copy.state == State.IN_CABINET:
        raise Refused(f"Copy {copy} is not out: it is in {copy.cabinet}.")
    if copy.state == State.DESTROYED:
        raise Refused(f"Copy {copy} was destroyed. Look at the serial again.")
    _refuse_cabinet_elsewhere(cabinet, copy.site)
    was_lost, holder = copy.state == State.LOST, copy.holder
    _end_custody(actor, copy)
    _put(copy, State.IN_CABINET, cabinet=cabinet)
    verb, words = ("key.found", "took the found") if was_lost else ("key.taken_back", "took back")
    origin = f" from {holder}" if holder else ""
    _tell(actor, copy, verb, f"{words} copy {copy} of {copy.symbol}{origin} into {cabinet}", holder=holder)
    return copy


@transaction.atomic
def report_lost(*, actor: User, copy: KeyCopy, note: str = "", version: int | None = None) -> KeyCopy:
    copy = _locked(copy, version)
    if copy.state == State.LOST:
        raise Refused(f"Copy {copy} is already reported lost.")
    if copy.state == State.DESTROYED:
        raise Refused(f"Copy {copy} was destroyed; it cannot be lost. Look at the serial again.")
    last = copy.holder or copy.cabinet
    holder = copy.holder
    _end_custody(actor, copy)
    _put(copy, State.LOST)
    place = f"with {last}" if holder else f"in {last}"
    sentence = f"reported copy {copy} of {copy.symbol} lost; it was last {place}"
    _tell(actor, copy, "key.lost", sentence, holder=holder, note=note)
    return copy


@transaction.atomic
def destroy_copy(*, actor: User, copy: KeyCopy, note: str = "", version: int | None = None) -> KeyCopy:
    """Only what lies on the desk can be destroyed, and seen to be."""
    copy = _locked(copy, version)
    if copy.state == State.DESTROYED:
        raise Refused(f"Copy {copy} is already destroyed.")
    if copy.state == State.HELD:
        raise Refused(f"Copy {copy} is with {copy.holder}. Take it back first, then destroy it.")
    if copy.state == State.LOST:
        raise Refused(f"Copy {copy} is lost. When it is found, take it back first, then destroy it.")
    _put(copy, State.DESTROYED)
    _tell(actor, copy, "key.destroyed", f"destroyed copy {copy} of {copy.symbol}", note=note)
    return copy


@transaction.atomic
def register_holder(*, actor: User, site: Site, name: str, email: str = "") -> Holder:
    """Somebody who takes keys without signing in here."""
    if email and Holder.objects.filter(site=site, email__iexact=email).exists():
        raise Refused(f"Somebody at {site} is already registered with {email}. Hand the key to them.")
    return _register(actor, Holder(site=site, name=name, email=email))


@transaction.atomic
def own_holder(*, actor: User, site: Site) -> Holder:
    """The holder that stands for the actor at a site; registered when they first ask for a key there."""
    found = Holder.objects.filter(site=site, user=actor).first()
    return found or _register(
        actor, Holder(site=site, name=actor.display_name, email=actor.email, user=actor)
    )


def _register(actor: User, holder: Holder) -> Holder:
    holder.save(force_insert=True)
    record(
        actor=actor,
        verb="holder.registered",
        sentence=f"registered {holder} as a holder of keys at {holder.site}",
        site_id=holder.site.pk,
        subjects=[holder],
    )
    return holder


def _locked(copy: KeyCopy, version: int | None) -> KeyCopy:
    """The copy as it is now, until the end of the transaction; a page that showed another state is told."""
    # Lock first, read after: who waited for the lock would get the joined holder of before the wait.
    KeyCopy.objects.select_for_update().get(pk=copy.pk)
    fresh = KeyCopy.objects.with_names().get(pk=copy.pk)
    if version is not None and fresh.version != version:
        where = fresh.holder or fresh.cabinet or fresh.get_state_display().lower()
        raise Conflict(f"Copy {fresh} was moved while you looked at it (now: {where}). Look again.")
    return fresh


def _refuse_copy_not_in_cabinet(copy: KeyCopy) -> None:
    if copy.state == State.HELD:
        raise Refused(f"Copy {copy} is already out, with {copy.holder}. Take it back first.")
    if copy.state == State.LOST:
        raise Refused(f"Copy {copy} is reported lost. If it was found, take it back into a cabinet first.")
    if copy.state == State.DESTROYED:
        raise Refused(f"Copy {copy} was destroyed. Hand out another copy.")


def _refuse_holder(actor: User, copy: KeyCopy, holder: Holder) -> None:
    if holder.site_id != copy.site_id:
        raise Refused(
            f"{holder} is a holder at {holder.site}, and the copy belongs to {copy.site}. "
            f"Register the person at {copy.site} first."
        )
    if not holder.is_active:
        raise Refused(f"{holder} no longer receives keys. Choose somebody who does.")
    if holder.user_id == actor.pk:
        raise Refused("Nobody hands a key to themselves. Somebody else at the desk does it.")


def _refuse_cabinet_elsewhere(cabinet: Cabinet, site: Site) -> None:
    if cabinet.site_id != site.pk:
        raise Refused(f"{cabinet} is not a cabinet of {site}. Choose one of {site}.")


def _put(
    copy: KeyCopy, state: KeyCopy.State, *, holder: Holder | None = None, cabinet: Cabinet | None = None
) -> None:
    copy.state, copy.holder, copy.cabinet = state, holder, cabinet
    copy.version += 1
    copy.save(update_fields=["state", "holder", "cabinet", "version"])


def _end_custody(actor: User, copy: KeyCopy) -> None:
    Custody.objects.filter(copy=copy, ended_at__isnull=True).update(ended_at=timezone.now(), ended_by=actor)


def _tell(
    actor: User, copy: KeyCopy, verb: str, sentence: str, *, holder: Holder | None = None, note: str = ""
) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=copy.site_id,
        subjects=[copy, copy.symbol, *([holder] if holder else [])],
        detail={"note": note} if note else {},
    )


def _copies(count: int) -> str:
    return "1 copy" if count == 1 else f"{count} copies"
