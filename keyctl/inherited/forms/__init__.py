from keyctl.inherited.forms.lists import BringForm, ColumnsForm, WriteForm
from keyctl.inherited.forms.reconstruct import MakeForm, ReconstructForm, WhereForm

__all__ = [
    "BringForm",
    "ColumnsForm",
    "MakeForm",
    "ReconstructForm",
    "WhereForm",
    "WriteForm",
]
