"""The tablets, what they tell, and the contradictions in it."""

from keyctl.field.models.cases import CaseCore, CaseHousing, CaseStory, ReconcileCase
from keyctl.field.models.devices import Device, DeviceUser
from keyctl.field.models.events import FieldEvent, Outcome, RejectedEvent, Via
from keyctl.field.models.photos import FieldPhoto

__all__ = [
    "CaseCore",
    "CaseHousing",
    "CaseStory",
    "Device",
    "DeviceUser",
    "FieldEvent",
    "FieldPhoto",
    "Outcome",
    "ReconcileCase",
    "RejectedEvent",
    "Via",
]
