"""A rotation whose first wave has begun, with a core of its own that goes round."""

from typing import Any

from keyctl.rotations.models import RotationCore
from tests.keyctl.rotations.yard import Yard
from tests.scenes.base import Base

OF_ROTATION = (
    "detail",
    "doors",
    "cores",
    "terms",
    "plan",
    "accept",
    "begin",
    "later",
    "pause",
    "resume",
    "finish",
    "cancel",
    "empty",
)


def routes(base: Base) -> dict[str, Any]:
    yard = Yard.of(base.cast)
    rotation = yard.accepted()
    wave = yard.begin(rotation)
    return {
        **{f"rotations:{name}": rotation.pk for name in OF_ROTATION},
        "rotations:door": wave.doors.all()[0].pk,
        "rotations:core": RotationCore.objects.filter(rotation=rotation)[0].pk,
        "prints:wave-sheet": wave.pk,
    }
