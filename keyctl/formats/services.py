"""Making and retiring a shop's own core formats."""

import re
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.formats.access import require_maker
from keyctl.formats.models import LONGEST_ID, ShopFormat
from keyctl.formats.selectors import constructions
from keyctl.formats.source import built_in_names
from keyctl.lib.days import day
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.constructions import construction_words

# They stand in the row's own columns.
NAMED = ("id", "name", "construction")
ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
# The addresses of pages stand beside those of formats.
RESERVED = {"new", "keyways"}


@transaction.atomic
def make_format(
    *, actor: User, format_id: str, name: str, construction: str, parameters: dict[str, Any]
) -> ShopFormat:
    """Store a format for good. What its self-proof finds impossible is shown to people, not refused here."""
    require_maker(actor)
    _refuse_names(format_id, name, construction)
    named = {"id": format_id, "name": name, "construction": construction}
    parsed = engine.parse_format({**parameters, **named})
    kept = {key: value for key, value in engine.format_parameters(parsed).items() if key not in NAMED}
    made = _store(
        ShopFormat(format_id=format_id, name=name, construction=construction, parameters=kept, made_by=actor)
    )
    record(
        actor=actor,
        verb="format.made",
        sentence=f"made the core format {name} ({format_id})",
        subjects=[made],
    )
    return made


@transaction.atomic
def retire_format(*, actor: User, shop_format: ShopFormat) -> ShopFormat:
    """Offer it for nothing new. Systems and cores that were made by it keep it."""
    require_maker(actor)
    found = ShopFormat.objects.select_for_update().get(pk=shop_format.pk)
    if found.retired_at is not None:
        raise Conflict(
            _("The format {found} is retired already, since {day}.").format(
                found=found, day=day(timezone.localtime(found.retired_at))
            )
        )
    found.retired_at = timezone.now()
    found.save(update_fields=["retired_at"])
    record(
        actor=actor,
        verb="format.retired",
        sentence=f"retired the core format {found} ({found.format_id})",
        subjects=[found],
    )
    return found


def _store(shop_format: ShopFormat) -> ShopFormat:
    """The constraints decide between two people who take the same name at once."""
    try:
        with transaction.atomic():
            shop_format.save()
    except IntegrityError:
        raise Conflict(_("Somebody else has just made a format of this id or name; choose others.")) from None
    return shop_format


def _refuse_names(format_id: str, name: str, construction: str) -> None:
    reasons = [reason for reason in (wrong_id(format_id), wrong_name(name)) if reason]
    if construction not in constructions():
        known = ", ".join(map(construction_words, constructions()))
        reasons.append(
            _("{construction!r} is no known construction; choose one of these: {known}.").format(
                construction=construction, known=known
            )
        )
    if reasons:
        raise Refused(_("The format was not made."), reasons=reasons)


def wrong_id(format_id: str) -> str | None:
    if not ID.fullmatch(format_id) or len(format_id) > LONGEST_ID:
        return _(
            "The id {format_id!r} cannot be used; take 1 to {longest_id} small letters and digits, in "
            "words joined by hyphens."
        ).format(format_id=format_id[:LONGEST_ID], longest_id=LONGEST_ID)
    taken = format_id in built_in_names() or ShopFormat.objects.filter(format_id=format_id).exists()
    if taken or format_id in RESERVED:
        return _("The id {format_id!r} is taken; choose another one.").format(format_id=format_id)
    return None


def wrong_name(name: str) -> str | None:
    if not name.strip():
        return _("The format has no name; give it one that the shop will know it by.")
    in_use = ShopFormat.objects.filter(retired_at__isnull=True, name__iexact=name)
    if name.lower() in map(str.lower, built_in_names().values()) or in_use.exists():
        return _("Another format is called {name!r}; choose a name that tells them apart.").format(name=name)
    return None
