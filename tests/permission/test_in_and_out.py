"""Who brings files in, who reads what left the house, and who takes which print."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.exports.access import readable_tables
from keyctl.imports.access import refuse_idle
from keyctl.places.roles import Role
from keyctl.prints.access import takers_of
from keyctl.prints.models import Export
from tests.cast import Cast


def test_whoever_brings_nothing_in_anywhere_has_no_list_of_files(cast: Cast) -> None:
    refuse_idle(cast.locksmith)
    with pytest.raises(PermissionDenied):
        refuse_idle(cast.requester)


def test_the_register_of_tables_is_read_by_officers_and_auditors(cast: Cast) -> None:
    assert not readable_tables(cast.auditor).exists()
    with pytest.raises(PermissionDenied):
        readable_tables(cast.locksmith)


def test_a_print_with_bittings_is_taken_by_fewer_than_one_without() -> None:
    secret = set(takers_of(Export.Kind.BINDER, holds_bittings=True))
    assert secret == {Role.LOCKSMITH, Role.OFFICER}
    assert secret < set(takers_of(Export.Kind.BINDER, holds_bittings=False))
