"""The gate: who, on what ground, how many; written down and committed; then the vault opens."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.lib.retold import retold
from keyctl.places.access import require_role_somewhere
from keyctl.places.models import Membership, Site
from keyctl.reveals.errors import Missing, Way
from keyctl.reveals.grounds import Ground, work_naming
from keyctl.reveals.models import Permission, Reveal
from keyctl.reveals.selectors import permissions_for
from keyctl.reveals.services.counting import allot
from keyctl.reveals.things import Secret, Seen

MOST_WAYS = 10


@dataclass(frozen=True)
class _Standing:
    """What lets one thing be shown: work, or a second person's permission."""

    by: Reveal.By
    ground: Ground
    permission: Permission | None = None


def reveal(*, actor: User, sign_in: FreshSignIn, wanted: Callable[[], Sequence[Secret[Seen]]]) -> list[Seen]:
    """Show things to a person. ``wanted`` runs inside the transaction that writes them down: it locks and
    refuses; each is opened after the commit, so that history keeps a look even where the opening fails."""
    sign_in.require(actor)
    with transaction.atomic(durable=True):
        secrets = wanted()
        _write(actor, secrets)
    return [secret.open() for secret in secrets]


def reveal_one(*, actor: User, sign_in: FreshSignIn, wanted: Callable[[], Secret[Seen]]) -> Seen:
    return reveal(actor=actor, sign_in=sign_in, wanted=lambda: [wanted()])[0]


def require_roles(actor: User, secrets: Sequence[Secret[Any]]) -> None:
    """404 for a stranger, 403 for a role that does not suffice, at every thing's own sites."""
    for sites, roles in {(secret.sites, secret.roles) for secret in secrets}:
        require_role_somewhere(actor, Site.objects.filter(pk__in=[site.pk for site in sites]), *roles)


def lock_person(actor: User) -> None:
    """Whoever presses twice at once waits here, so that both looks count against one quota."""
    User.objects.select_for_update(no_key=True).get(pk=actor.pk)


def ask_url(secret: Secret[Any]) -> str:
    return reverse("reveals:ask", args=[secret.kind, secret.thing.pk])


def _write(actor: User, secrets: Sequence[Secret[Any]]) -> None:
    require_roles(actor, secrets)
    lock_person(actor)
    now = timezone.now()
    standing = _standing(actor, secrets, now)
    sites = _sites_of(actor, secrets)
    rows = [
        _row(actor, secret, standing[secret.thing.pk], site, now)
        for secret, site in zip(secrets, sites, strict=True)
    ]
    allot(actor, rows, {site for secret in secrets for site in secret.sites}, now)
    _mark_used({row.permission for row in rows if row.permission}, now)
    for secret, row in zip(secrets, rows, strict=True):
        row.event = _tell(actor, secret, row)
    Reveal.objects.bulk_create(rows)


def _standing(actor: User, secrets: Sequence[Secret[Any]], now: datetime) -> dict[UUID, _Standing]:
    """On what each thing rests; refused with all that are missing."""
    unknown = [secret.thing for secret in secrets if not (secret.ground or secret.is_question)]
    work = work_naming(actor, unknown) if unknown else {}
    permissions = permissions_for(actor, [(secret.kind, secret.thing.pk) for secret in secrets], now)
    found: dict[UUID, _Standing] = {}
    missing = []
    for secret in secrets:
        pk = secret.thing.pk
        standing = _rests_on(actor, secret, secret.ground or work.get(pk), permissions.get(pk))
        if standing is None:
            missing.append(secret)
        else:
            found[pk] = standing
    if missing:
        raise _missing(missing)
    return found


def _rests_on(
    actor: User, secret: Secret[Any], work: Ground | None, permission: Permission | None
) -> _Standing | None:
    if secret.is_question:
        return _Standing(Reveal.By.QUESTION, Ground("about what is at hand"))
    if work and (not secret.is_high or work.second not in {None, actor}):
        return _Standing(Reveal.By.WORK, work)
    if permission is None:
        return None
    words = f"as {permission.decided_by} permitted: {permission.reason}"
    return _Standing(Reveal.By.PERMISSION, Ground(words[:300], second=permission.decided_by), permission)


def _missing(secrets: Sequence[Secret[Any]]) -> Refused:
    high = [secret for secret in secrets if secret.is_high]
    if high:
        message = _(
            "A second person is needed. Masters, control keys and what is as good as one are shown only "
            "when a security officer permits it: ask, then come back."
        )
    else:
        message = _(
            "No open order of yours names it. Open one for the work, or ask a security officer to permit "
            "a look."
        )
    shown = (high or list(secrets))[:MOST_WAYS]
    return Missing(
        message,
        ways=[
            Way(_("Ask to see {words}").format(words=retold(secret.words)), ask_url(secret))
            for secret in shown
        ],
    )


def _sites_of(actor: User, secrets: Sequence[Secret[Any]]) -> list[Site]:
    """Where each is written down: the first of its sites at which the person has the role."""
    roles = {role for secret in secrets for role in secret.roles}
    held = set(Membership.objects.filter(user=actor, role__in=roles).values_list("site_id", "role"))
    return [_site_of(secret, held) for secret in secrets]


def _site_of(secret: Secret[Any], held: set[tuple[UUID, str]]) -> Site:
    for site in secret.sites:
        if any((site.pk, role) in held for role in secret.roles):
            return site
    raise Http404  # pragma: no cover (the roles were asked for above)


def _row(actor: User, secret: Secret[Any], standing: _Standing, site: Site, now: datetime) -> Reveal:
    return Reveal(
        actor=actor,
        at=now,
        kind=secret.kind,
        subject_id=secret.thing.pk,
        words=secret.words[:200],
        site=site,
        by=standing.by,
        ground=standing.ground.words,
        is_own_work=standing.ground.is_own,
        is_high=secret.is_high,
        second=standing.ground.second,
        permission=standing.permission,
    )


def _mark_used(permissions: set[Permission], now: datetime) -> None:
    for permission in permissions:
        if permission.used_at is None:
            permission.used_at = now
            permission.save(update_fields=["used_at"])


def _tell(actor: User, secret: Secret[Any], row: Reveal) -> Any:
    second = f", with {row.second}" if row.second and row.by == Reveal.By.WORK else ""
    return record(
        actor=actor,
        verb=secret.verb,
        sentence=(secret.sentence or f"looked at {secret.words} {row.ground}{second}")[:400],
        # A key that several sites share concerns them all: no single one has the event to itself.
        site_id=row.site.pk if len(secret.sites) == 1 else None,
        subjects=[secret.thing, *secret.about],
        detail={"by": row.by, **({"second": str(row.second)} if row.second else {})},
    )
