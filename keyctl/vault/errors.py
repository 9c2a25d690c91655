"""Why the vault does not open. Where a routine meets it, it is kept in English and told again."""

from django.utils.translation import gettext, gettext_noop

from keyctl.lib.errors import Refused
from keyctl.lib.retold import kept_text

SEALED = kept_text(
    gettext_noop(
        "The vault is sealed: its key file is missing. Put the key back in the secrets folder, where it is "
        "found at once, or set KEYCTL_VAULT_KEY and start again."
    )
)
BAD_KEY = kept_text(
    gettext_noop("The vault key is not 32 bytes in base64: put back the key that sealed this data.")
)
TAMPERED = kept_text(
    gettext_noop(
        "The sealed value of {place} does not open: it was altered, moved from another row, or sealed with "
        "another key. Restore it from a backup; do not overwrite it."
    )
)
NO_SUCH_KEY = kept_text(
    gettext_noop(
        "The vault has no data key {name} under the key it was given: put back the vault key that was in use "
        "when it was made, or restore the database from the same backup as the value."
    )
)
ANOTHER_KEY = kept_text(
    gettext_noop(
        "The vault key is not the one of this database. Put back the key that was in use with it; nothing is "
        "sealed by another, since the two would not open together."
    )
)


class Sealed(Refused):
    """There is no vault key: everything works but what needs a bitting."""

    def __init__(self) -> None:
        super().__init__(gettext(SEALED))


class BadKey(Refused):
    """The vault key is there and cannot be one."""

    def __init__(self) -> None:
        super().__init__(gettext(BAD_KEY))


class Tampered(Refused):
    """A sealed value does not belong to the row and field it was found in, or was altered."""

    def __init__(self, place: str) -> None:
        super().__init__(gettext(TAMPERED).format(place=place))


class NoSuchKey(Refused):
    """A value names a data key that the ring does not hold under the outer key in use."""

    def __init__(self, name: str) -> None:
        super().__init__(gettext(NO_SUCH_KEY).format(name=name))


class AnotherKey(Refused):
    """The outer key is a good one, and not the one that wraps the data keys of this database."""

    def __init__(self) -> None:
        super().__init__(gettext(ANOTHER_KEY))
