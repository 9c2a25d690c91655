"""What the desk types. The services decide; forms only read."""

from keyctl.keys.forms.copies import (
    BrokenForm,
    CabinetForm,
    CopyForm,
    CutForm,
    DestroyForm,
    FoundForm,
    HandOutForm,
    LostForm,
    RevealForm,
    TakeBackForm,
    TransferForm,
)
from keyctl.keys.forms.fields import DayInput, DueForm, HolderField, HourInput, moment_of
from keyctl.keys.forms.people import (
    CustodianForm,
    HolderForm,
    MoveForm,
    NameForm,
    NewCabinetForm,
    ReasonForm,
)
from keyctl.keys.forms.rules import DeskRulesForm, KeepDepositForm, TermsForm

__all__ = [
    "BrokenForm",
    "CabinetForm",
    "CopyForm",
    "CustodianForm",
    "CutForm",
    "DayInput",
    "DeskRulesForm",
    "DestroyForm",
    "DueForm",
    "FoundForm",
    "HandOutForm",
    "HolderField",
    "HolderForm",
    "HourInput",
    "KeepDepositForm",
    "LostForm",
    "MoveForm",
    "NameForm",
    "NewCabinetForm",
    "ReasonForm",
    "RevealForm",
    "TakeBackForm",
    "TermsForm",
    "TransferForm",
    "moment_of",
]
