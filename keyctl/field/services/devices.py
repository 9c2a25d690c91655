"""Tablets: registered by whoever works with them, renamed, withdrawn."""

import hashlib
import hmac
import secrets
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.field.access import require_keeper
from keyctl.field.models import Device, DeviceUser
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.identifiers import read_uuid
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role

LONGEST_NAME = 60
LONGEST_REASON = 200

_BY_PK = Prepared(lambda: Device.objects.select_related("site").filter(pk=Slot("pk")).order_by())


@dataclass(frozen=True)
class Registered:
    """The tablet, and the proof that only the tablet keeps."""

    device: Device
    proof: str


@transaction.atomic
def register_device(*, actor: User, site: Site, name: str) -> Registered:
    require_role(actor, site, Role.LOCKSMITH)
    secret = secrets.token_urlsafe(32)
    device = Device.objects.create(name=_name(name), site=site, owner=actor, digest=_digest(secret))
    note_user(device=device, user=actor)
    _tell(actor, device, "registered", f"registered the tablet {device}")
    return Registered(device, f"{device.pk}.{secret}")


def note_user(*, device: Device, user: User) -> None:
    """Somebody who signed in works with the tablet: what it says they wrote is believed from now on."""
    if not DeviceUser.objects.filter(device=device, user=user).exists():
        DeviceUser.objects.get_or_create(device=device, user=user)


def device_of(proof: str) -> Device | None:
    """The tablet that shows this proof, withdrawn or not; None where it is no proof."""
    told, _, secret = proof.partition(".")
    pk = read_uuid(told)
    device = _BY_PK.first(pk=pk) if pk else None
    fits = device is not None and hmac.compare_digest(device.digest, _digest(secret))
    return device if fits else None


@transaction.atomic
def rename_device(*, actor: User, device: Device, name: str) -> Device:
    device = _locked(actor, device)
    before, device.name = device.name, _name(name)
    device.save(update_fields=["name"])
    _tell(actor, device, "renamed", f"renamed the tablet {before} to {device}")
    return device


@transaction.atomic
def withdraw_device(*, actor: User, device: Device, reason: str) -> Device:
    """From now on nothing that it tells has an effect by itself."""
    device = _locked(actor, device)
    if device.withdrawn_by is not None:
        raise Conflict(
            gettext("{withdrawn_by} has withdrawn this tablet already. Nothing was changed.").format(
                withdrawn_by=device.withdrawn_by
            )
        )
    if not reason.strip():
        raise Refused(
            gettext("Say why the tablet is withdrawn; whoever looks at what it still tells will read it.")
        )
    if len(reason.strip()) > LONGEST_REASON:
        raise Refused(
            gettext("Say it in at most {longest_reason} characters.").format(longest_reason=LONGEST_REASON)
        )
    device.withdrawn_at, device.withdrawn_by = timezone.now(), actor
    device.withdrawn_reason = reason.strip()
    device.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_reason"])
    _tell(actor, device, "withdrawn", f"withdrew the tablet {device}: {device.withdrawn_reason}")
    return device


def _locked(actor: User, device: Device) -> Device:
    device = held(Device.objects.with_names(), device.pk)
    require_keeper(actor, device)
    return device


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not name:
        raise Refused(gettext("Give the tablet a name by which you tell it from the others."))
    if len(name) > LONGEST_NAME:
        raise Refused(
            gettext("A name has at most {longest_name} characters.").format(longest_name=LONGEST_NAME)
        )
    return name


def _digest(secret: str) -> str:
    """The secret is long and random: a plain digest of it tells nothing."""
    return hashlib.sha256(secret.encode()).hexdigest()


def _tell(actor: User, device: Device, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=f"device.{verb}",
        sentence=sentence,
        site_id=device.site_id,
        subjects=[device],
    )
