"""What may be stamped on a key: its serial, which tells a finder nothing, or what the site allows."""

import re
from typing import Any

from django.db.models import CharField, F, Q, Value
from django.db.models.functions import Length, Replace, Upper
from django.utils.translation import gettext as _

from keyctl.keys.models import DeskSettings, KeyCopy
from keyctl.lib.errors import Refused
from keyctl.places.models import Door, Site
from keyctl.systems.models import KeySymbol

LONGEST_STAMP = 20
# A shorter number stands inside too many texts by chance; as a word of its own it still counts.
TELLING = 3
Stamping = DeskSettings.Stamping


def stamps_for(site: Site, symbol: KeySymbol, text: str, count: int) -> list[str]:
    """What each of the copies is stamped with; empty where it is the serial. Several copies are numbered."""
    text = " ".join(text.split())
    if not text:
        return [""] * count
    _refuse_text(site, symbol, text)
    stamps = [text] if count == 1 else [f"{text}/{nth}" for nth in range(1, count + 1)]
    taken = KeyCopy.objects.filter(site=site, stamp__in=stamps).values_list("stamp", flat=True).first()
    if taken:
        raise Refused(
            _("“{taken}” is stamped on another key of {site} already. Choose another text.").format(
                taken=taken, site=site
            )
        )
    return stamps


def _refuse_text(site: Site, symbol: KeySymbol, text: str) -> None:
    settings = DeskSettings.objects.filter(site=site).first()
    rule = settings.stamping if settings else Stamping.SERIAL
    if rule == Stamping.SERIAL:
        raise Refused(
            _(
                "At {site} a key is stamped with its serial only. Leave the stamp empty, or ask an "
                "administrator to allow a text of your own."
            ).format(site=site)
        )
    if len(text) > LONGEST_STAMP:
        raise Refused(
            _("The stamp is longer than {longest_stamp} signs. Choose a shorter text.").format(
                longest_stamp=LONGEST_STAMP
            )
        )
    if rule == Stamping.FREE:
        _refuse_telling(site, symbol, text)


def _refuse_telling(site: Site, symbol: KeySymbol, text: str) -> None:
    if _tells(text, symbol.symbol):
        raise Refused(
            _(
                "“{text}” holds the key's symbol, which tells a finder what it opens. Choose another text."
            ).format(text=text)
        )
    if _names_a_door(site, text):
        raise Refused(
            _("“{text}” holds a door number of {site}, which tells a finder where. Choose another.").format(
                text=text, site=site
            )
        )


def _tells(text: str, name: str) -> bool:
    return _plain(name) in _words(text) or (len(_plain(name)) >= TELLING and _plain(name) in _plain(text))


def _names_a_door(site: Site, text: str) -> bool:
    """Whether a door's number, without its gaps, is a word of the text or stands inside it."""
    plain_number: Any = Upper("number")
    for gap in (" ", "-", ".", "/", "_"):
        plain_number = Replace(plain_number, Value(gap), Value(""))
    doors = Door.objects.filter(floor__building__site=site).annotate(
        plain=plain_number, size=Length(plain_number), text=Value(_plain(text), output_field=CharField())
    )
    inside = Q(size__gte=TELLING, text__contains=F("plain"))
    return doors.filter(Q(plain__in={*_words(text), _plain(text)}) | inside).exists()


def _words(text: str) -> set[str]:
    return {word for word in re.split(r"[\W_]+", text.upper()) if word}


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.upper())
