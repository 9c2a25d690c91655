"""The text an integration sends: ``kc_<prefix>_<secret>``."""

import hashlib
import re
import secrets
from dataclasses import dataclass, field
from typing import Self

from keyctl.lib.tags import ALPHABET, new_tag

PREFIX_LENGTH = 8
SECRET_BYTES = 32

_FORM = re.compile(rf"kc_([{ALPHABET}]{{{PREFIX_LENGTH}}})_([0-9a-f]{{{2 * SECRET_BYTES}}})")


@dataclass(frozen=True)
class Credential:
    prefix: str
    # Not in the repr: a trace or a log line must not carry it.
    secret: str = field(repr=False)

    @classmethod
    def new(cls) -> Self:
        return cls(prefix=new_tag(PREFIX_LENGTH), secret=secrets.token_hex(SECRET_BYTES))

    @classmethod
    def read(cls, text: str) -> Self | None:
        """The credential in a text, None where it has another form.

        >>> Credential.read("kc_BCDF2345_" + "0" * 64)
        Credential(prefix='BCDF2345')
        >>> Credential.read("kc_BCDF2345_short") is None
        True
        """
        found = _FORM.fullmatch(text)
        return cls(prefix=found[1], secret=found[2]) if found else None

    @property
    def text(self) -> str:
        return f"kc_{self.prefix}_{self.secret}"

    @property
    def digest(self) -> str:
        """Plain SHA-256: the secret has 256 random bits, so there is nothing a slow hash would add."""
        return hashlib.sha256(self.secret.encode()).hexdigest()

    def fits(self, digest: str) -> bool:
        return secrets.compare_digest(self.digest, digest)
