"""Where words come from. Each meaning is told in words of our own; the source is where the thing is named.

A standard that was not at hand is marked: it was named from memory, and may want to be looked up.
"""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from keyctl.lib.language import Text


@dataclass(frozen=True)
class Source:
    name: Text
    is_from_memory: bool = False


TRADE = Source(_("Common practice in the trade, no source"))
OWN = Source(_("keyctl’s own word, chosen to be plain"))

# Of the Lock Industry Standards and Training Council; the page says so once.
DICTIONARY = Source("Professional Locksmith Dictionary", is_from_memory=True)
CYLINDERS = Source("ANSI/BHMA A156.5", is_from_memory=True)
CODING = Source("ANSI/BHMA A156.28, as told in Keynotes 2014-05 p. 19 and 2017-07 p. 46")
PAGES = Source("Keynotes 2014-09 p. 11")

LIFE_SAFETY = Source("NFPA 101", is_from_memory=True)
FIRE_DOORS = Source("NFPA 80", is_from_memory=True)
ACCESS = Source("2010 ADA Standards for Accessible Design, 309.4 and 404.2.7", is_from_memory=True)
LOCKOUT = Source("29 CFR 1910.147", is_from_memory=True)

PE3 = Source("NIST SP 800-53 Rev. 5, PE-3")
TWO_PERSON = Source("NIST SP 800-53 Rev. 5, AC-3(2)", is_from_memory=True)
LOG = Source("RFC 9162")
WEBAUTHN = Source("W3C Web Authentication", is_from_memory=True)
FACTORS = Source("NIST SP 800-63B; RFC 6238", is_from_memory=True)
COBIE = Source("NBIMS-US, COBie", is_from_memory=True)
IFC = Source("ISO 16739-1")
WEBHOOKS = Source("Standard Webhooks 1.0.0")
