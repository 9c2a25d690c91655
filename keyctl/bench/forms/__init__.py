"""What people say at the bench."""

from keyctl.bench.forms.choosing import ChooseCoreOrFormat, ChooseKeySource
from keyctl.bench.forms.keys import RootDepths, TryKey
from keyctl.bench.forms.pins import MeasuredPins, PinsTakenOut, RecordFound
from keyctl.bench.forms.repin import ChooseSymbols

__all__ = [
    "ChooseCoreOrFormat",
    "ChooseKeySource",
    "ChooseSymbols",
    "MeasuredPins",
    "PinsTakenOut",
    "RecordFound",
    "RootDepths",
    "TryKey",
]
