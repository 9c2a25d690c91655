"""Identifiers as they arrive in a form or an address."""

from uuid import UUID


def read_uuid(text: str | None) -> UUID | None:
    """None where it is no identifier: to look for it then finds nothing.

    >>> read_uuid("3f2504e0-4f89-11d3-9a0c-0305e82c3301"), read_uuid("'"), read_uuid(None)
    (UUID('3f2504e0-4f89-11d3-9a0c-0305e82c3301'), None, None)
    """
    try:
        return UUID(text or "")
    except ValueError:
        return None
