"""What the constraints of the vault forbid, each tried against the database itself."""

from collections.abc import Callable

from keyctl.vault.models import DataKey
from tests.cast import Cast

SEAL = DataKey.Purpose.SEAL


def the_same_key_twice_under_one_outer_key(_cast: Cast) -> None:
    DataKey.objects.create(name="0badcafe", purpose=SEAL, wrapped_by="one", wrapped=b"1")
    DataKey.objects.create(name="0badcafe", purpose=DataKey.Purpose.DIGEST, wrapped_by="one", wrapped=b"2")


def two_keys_that_seal(_cast: Cast) -> None:
    DataKey.objects.create(name="0badcafe", purpose=SEAL, wrapped_by="one", wrapped=b"1")
    DataKey.objects.create(name="0badbeef", purpose=SEAL, wrapped_by="one", wrapped=b"2")


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "data_key_is_wrapped_once_by_a_key": the_same_key_twice_under_one_outer_key,
    "data_key_in_use_is_one": two_keys_that_seal,
}
