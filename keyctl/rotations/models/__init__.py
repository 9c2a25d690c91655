"""A rotation: which doors get which keys, the waves they are done in, and the cores that go round."""

from keyctl.rotations.models.doors import RotationCore, RotationDoor, RotationKey
from keyctl.rotations.models.rotations import Rotation, Wave

__all__ = ["Rotation", "RotationCore", "RotationDoor", "RotationKey", "Wave"]
