"""The rules of a site's key desk, and the versions of the terms that people sign."""

import hashlib
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import DeskSettings, Terms
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role

LONGEST_TERMS = 8000
CHANGEABLE = (
    "staff_days",
    "student_days",
    "contractor_hours",
    "other_days",
    "change_deposit",
    "master_deposit",
    "top_deposit",
    "control_deposit",
    "currency",
    "stamping",
)


@transaction.atomic
def change_desk_settings(*, actor: User, site: Site, version: int, **facts: Any) -> DeskSettings:
    require_role(actor, site, Role.ADMINISTRATOR)
    settings = _locked(site)
    if settings.version != version:
        raise Conflict(_("Somebody changed these settings while you looked at them. Look at them again."))
    changed = [name for name in CHANGEABLE if name in facts and facts[name] != getattr(settings, name)]
    for name in changed:
        setattr(settings, name, facts[name])
    settings.version += 1
    settings.save(update_fields=[*changed, "version"])
    words = ", ".join(name.replace("_", " ") for name in changed) or "nothing"
    _tell(actor, settings, "desk.settings_changed", f"changed the key desk's settings at {site}: {words}")
    return settings


@transaction.atomic
def publish_terms(*, actor: User, site: Site, text: str) -> Terms:
    """The next version of the text, in force at once; what was signed before stays with its own version."""
    require_role(actor, site, Role.ADMINISTRATOR)
    text = "\n".join(line.rstrip() for line in text.strip().splitlines())
    if not text or len(text) > LONGEST_TERMS:
        raise Refused(
            _("Terms have between 1 and {longest_terms} signs. Write the text, or shorten it.").format(
                longest_terms=LONGEST_TERMS
            )
        )
    settings = _locked(site)
    if settings.terms and settings.terms.text == text:
        raise Refused(_("These are the terms in force, word for word. Change the text first."))
    last = Terms.objects.filter(site=site).order_by("-number").values_list("number", flat=True).first()
    digest = hashlib.sha256(text.encode()).hexdigest()
    terms = Terms.objects.create(site=site, number=(last or 0) + 1, text=text, sha256=digest, made_by=actor)
    settings.terms = terms
    settings.save(update_fields=["terms"])
    _tell(actor, settings, "desk.terms_published", f"published {in_english(terms)}")
    return terms


def _locked(site: Site) -> DeskSettings:
    DeskSettings.objects.get_or_create(site=site)
    DeskSettings.objects.select_for_update().get(site=site)
    return DeskSettings.objects.select_related("terms").get(site=site)


def _tell(actor: User, settings: DeskSettings, verb: str, sentence: str) -> None:
    subjects = [settings, *([settings.terms] if settings.terms else [])]
    record(actor=actor, verb=verb, sentence=sentence, site_id=settings.site_id, subjects=subjects)
