"""What every act on copies does: hold them still, write the act, its lines and history."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import F, Model
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import Cabinet, Custody, DeskSettings, Handover, Holder, KeyCopy
from keyctl.keys.signing import Signature
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold
from keyctl.lib.language import in_sentence
from keyctl.places.models import Site
from keyctl.vault import services as vault

MOST_AT_ONCE = 100
MOST_NAMED = 3
State = KeyCopy.State


def locked(copies: Sequence[KeyCopy], version: int | None = None) -> list[KeyCopy]:
    """The copies as they are now, in the order given, until the end of the transaction.

    A page that showed another state is told (``version`` is of a page that shows one copy).
    """
    wanted = list(dict.fromkeys(copy.pk for copy in copies))
    if not wanted:
        raise Refused(gettext("No key was chosen. Scan or choose at least one."))
    if len(wanted) > MOST_AT_ONCE:
        raise Refused(
            gettext("At most {most_at_once} keys go in one act. Do the others in a second one.").format(
                most_at_once=MOST_AT_ONCE
            )
        )
    hold(KeyCopy.objects.filter(pk__in=wanted))
    found = {copy.pk: copy for copy in KeyCopy.objects.with_names().filter(pk__in=wanted)}
    ordered = [found[pk] for pk in wanted]
    if version is not None and ordered[0].version != version:
        first, where = ordered[0], _where(ordered[0])
        raise Conflict(
            gettext("Copy {first} was moved while you looked at it (now: {where}). Look again.").format(
                first=first, where=where
            )
        )
    return ordered


def locked_holder(holder: Holder) -> Holder:
    """The holder as they are now; nobody ends their right to keys while keys are asked for or handed over.

    Held first by everybody: the holder, then requests and orders, then copies.
    """
    return (
        Holder.objects.select_for_update(no_key=True, of=("self",))
        .select_related("site", "person")
        .get(pk=holder.pk)
    )


def only_site(copies: Sequence[KeyCopy]) -> Site:
    sites = {copy.site_id: copy.site for copy in copies}
    if len(sites) > 1:
        names = ", ".join(sorted(str(site) for site in sites.values()))
        raise Refused(
            gettext("These keys belong to several sites ({names}). Do each site by itself.").format(
                names=names
            )
        )
    return copies[0].site


def refuse_all(sentences: Sequence[str]) -> None:
    """Every key that stands in the way is named, not only the first."""
    if sentences:
        raise Refused(sentences[0], reasons=sentences[1:])


def refuse_cabinet_elsewhere(cabinet: Cabinet, site: Site) -> None:
    if cabinet.site_id != site.pk:
        raise Refused(
            gettext("{cabinet} is not a cabinet of {site}. Choose one of {site}.").format(
                cabinet=cabinet, site=site
            )
        )


def write_act(
    actor: User,
    site: Site,
    way: Handover.Way,
    *,
    holder: Holder | None,
    signature: Signature | None = None,
) -> Handover:
    """The act under the site's next number, with the terms in force where somebody signs for keys."""
    settings, _ = DeskSettings.objects.get_or_create(site=site)
    DeskSettings.objects.filter(pk=settings.pk).update(last_number=F("last_number") + 1)
    settings.refresh_from_db(fields=["last_number", "terms"])
    act = Handover(site=site, number=settings.last_number, way=way, holder=holder, by=actor)
    act.terms = settings.terms if way != Handover.Way.BACK else None
    if signature:
        _sign(act, signature, holder)
    act.save(force_insert=True)
    return act


def open_lines(act: Handover, copies: Sequence[KeyCopy], holder: Holder, due_at: datetime | None) -> None:
    """Each copy is with the holder from now on, by a line of its own."""
    for copy in copies:
        line = Custody.objects.create(
            copy=copy, holder=holder, out_at=act.at, handed_out_by=act.by, out_act=act, due_at=due_at
        )
        put(copy, State.HELD, holder=holder, custody=line)


def end_lines(actor: User, copies: Sequence[KeyCopy], ending: Custody.Ending, **facts: Any) -> None:
    """``facts`` are what the end writes down further: the act, who brought the keys."""
    lines = Custody.objects.filter(copy__in=copies, ended_at__isnull=True)
    lines.update(ended_at=timezone.now(), ended_by=actor, ending=ending, **facts)


def put(
    copy: KeyCopy,
    state: KeyCopy.State,
    *,
    holder: Holder | None = None,
    custody: Custody | None = None,
    cabinet: Cabinet | None = None,
) -> None:
    copy.state, copy.holder, copy.custody, copy.cabinet = state, holder, custody, cabinet
    copy.version += 1
    copy.save(update_fields=["state", "holder", "custody", "cabinet", "version"])


def tell(
    actor: User,
    copies: Sequence[KeyCopy],
    verb: str,
    sentence: str,
    *,
    things: Sequence[Model | None] = (),
    detail: Mapping[str, Any] | None = None,
) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=copies[0].site_id,
        subjects=[*copies, *(copy.symbol for copy in copies), *(thing for thing in things if thing)],
        detail={name: value for name, value in (detail or {}).items() if value},
    )


def named(copies: Sequence[KeyCopy]) -> str:
    """One copy by its serial and key; of several the keys, and how many."""
    if len(copies) == 1:
        return f"copy {copies[0]} of {copies[0].symbol}"
    return f"{len(copies)} keys ({shortened(sorted({copy.symbol.symbol for copy in copies}))})"


def shortened(names: Sequence[str]) -> str:
    rest = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {rest} more" if rest > 0 else "")


def _where(copy: KeyCopy) -> str:
    return str(copy.holder or copy.cabinet or in_sentence(copy.get_state_display()))


def _sign(act: Handover, signature: Signature, holder: Holder | None) -> None:
    act.signed_as = signature.name or (holder.name if holder else "")
    act.sign_way = Handover.SignWay.DRAWN if signature.is_drawn else Handover.SignWay.TYPED
    if signature.is_drawn:
        act.signature = vault.seal(act, "signature", signature.path)
