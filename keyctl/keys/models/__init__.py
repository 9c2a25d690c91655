"""Key copies and custody: every copy is with one holder, in one cabinet, lost or destroyed."""

from keyctl.keys.models.copies import Cabinet, KeyCopy
from keyctl.keys.models.custody import Custody, Deposit, Handover
from keyctl.keys.models.people import Holder, Person, PersonKind
from keyctl.keys.models.terms import DeskSettings, Terms

__all__ = [
    "Cabinet",
    "Custody",
    "Deposit",
    "DeskSettings",
    "Handover",
    "Holder",
    "KeyCopy",
    "Person",
    "PersonKind",
    "Terms",
]
