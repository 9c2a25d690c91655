from keyctl.inherited.forms.lists import BittingColumnsForm, BringForm, WriteForm
from keyctl.inherited.forms.reconstruct import MakeForm, ReconstructForm, WhereForm

__all__ = [
    "BittingColumnsForm",
    "BringForm",
    "MakeForm",
    "ReconstructForm",
    "WhereForm",
    "WriteForm",
]
