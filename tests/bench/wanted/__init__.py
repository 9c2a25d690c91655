"""The register of every figure that was asked for, by what it is about."""

from tests.bench.wanted.custody import CUSTODY
from tests.bench.wanted.entries import Wanted
from tests.bench.wanted.exchange import EXCHANGE
from tests.bench.wanted.face import FACE
from tests.bench.wanted.field import FIELD
from tests.bench.wanted.pinning import PINNING
from tests.bench.wanted.trust import TRUST
from tests.bench.wanted.whole import WHOLE

REGISTER: dict[str, tuple[Wanted, ...]] = {
    "Arithmetic": PINNING,
    "Keys in people's hands": CUSTODY,
    "At the door": FIELD,
    "Trust": TRUST,
    "Data in and out": EXCHANGE,
    "Pages": FACE,
    "The whole": WHOLE,
}

__all__ = ["REGISTER", "Wanted"]
