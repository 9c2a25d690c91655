"""Changing keys reaches every sealed value of every table, goes on after a stop, and shows no plaintext."""

from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import models
from pytest_django import Settings

from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.operations import resealing
from keyctl.systems.models import KeySymbol
from keyctl.vault import outer, ring
from keyctl.vault import services as vault
from keyctl.vault.fields import SealedField, sealed_fields
from tests.cast import Cast, gather
from tests.scenes import build_routes


@pytest.fixture(autouse=True)
def forgetful(settings: Settings) -> Iterator[None]:
    ring.forget()
    yield
    ring.forget()


@pytest.fixture
def estate(db: None) -> Cast:
    """One of everything, as the tests of every route have it."""
    cast = gather()
    build_routes(cast)
    return cast


def run(act: str, settings: Settings, **options: Any) -> str:
    settings.VAULT_LOOKS_EVERY = 0
    said = StringIO()
    call_command("vault", act, stdout=said, stderr=said, **options)
    return said.getvalue()


def everything() -> dict[tuple[str, Any, str], bytes]:
    """Every sealed value of the database, opened."""
    return {
        (model._meta.label, row.pk, name): vault.unseal_bytes(row, name)
        for model, names in sealed_fields()
        for row in model._base_manager.all()
        for name in names
        if getattr(row, name) is not None
    }


def keys_in_use() -> set[str]:
    return {
        vault.key_of(getattr(row, name))
        for model, names in sealed_fields()
        for row in model._base_manager.all()
        for name in names
        if getattr(row, name) is not None
    }


def test_every_sealed_value_is_found_by_its_type(estate: Cast) -> None:
    """Bytes that open are sealed values; a plain field of bytes that held one would be left behind."""
    plain = {
        (model._meta.label, field.name)
        for model in (model for model, _ in _models_with_bytes())
        for field in model._meta.concrete_fields
        if isinstance(field, models.BinaryField) and not isinstance(field, SealedField)
    }
    # A version holds symbols and keyed digests, compressed; no bitting.
    hashes = {("audit.Head", "hash"), ("audit.Link", "before"), ("audit.Link", "hash")}
    # Words of names and numbers, as bytes for their order; what they are of is listed in search/sources.
    words = {("search.Word", "text")}
    versions = {("versions.SystemVersion", "content")}
    assert plain == {("vault.DataKey", "wrapped"), *versions, *hashes, *words}


def _models_with_bytes() -> Iterator[tuple[type[models.Model], list[str]]]:
    from django.apps import apps

    for model in apps.get_models():
        names = [f.name for f in model._meta.concrete_fields if isinstance(f, models.BinaryField)]
        if names:
            yield model, names


def test_rotation_seals_everything_anew_and_changes_no_word_of_it(estate: Cast, settings: Settings) -> None:
    before, key = everything(), ring.current()
    assert len({label for label, _, _ in before}) >= 5
    said = run("rotate", settings)
    assert everything() == before
    assert keys_in_use() == {ring.current()} != {key}
    assert "Sealed anew" in said
    assert Event.objects.filter(verb="vault.sealed_anew").exists()


def test_a_rotation_that_stopped_goes_on_and_makes_no_second_key(
    estate: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, asked = everything(), []

    def stop_at_the_third(*arguments: Any) -> int:
        asked.append(arguments)
        if len(asked) == 3:
            raise KeyboardInterrupt
        return batch(*arguments)

    batch = resealing._reseal_batch
    with monkeypatch.context() as patch:
        patch.setattr(resealing, "_reseal_batch", stop_at_the_third)
        with pytest.raises(KeyboardInterrupt):
            run("rotate", settings)
    half = ring.current()
    assert len(keys_in_use()) == 2
    assert "going on" in run("rotate", settings)
    assert keys_in_use() == {half}
    assert everything() == before


def test_verify_counts_by_key_and_names_what_does_not_open(estate: Cast, settings: Settings) -> None:
    assert f"All {len(everything())} sealed values open." in run("verify", settings)
    symbol = KeySymbol.objects.order_by("pk")[0]
    KeySymbol.objects.filter(pk=symbol.pk).update(bitting=bytes(symbol.bitting)[:-1])
    with pytest.raises(CommandError, match="1 sealed values do not open"):
        run("verify", settings)


def test_what_does_not_open_holds_nothing_else_up(estate: Cast, settings: Settings) -> None:
    symbol = KeySymbol.objects.order_by("pk")[0]
    altered = bytes(symbol.bitting)[:-1] + bytes([bytes(symbol.bitting)[-1] ^ 1])
    KeySymbol.objects.filter(pk=symbol.pk).update(bitting=altered)
    with pytest.raises(CommandError, match="left as they are"):
        run("rotate", settings)
    assert bytes(KeySymbol.objects.get(pk=symbol.pk).bitting) == altered
    rest = KeySymbol.objects.exclude(pk=symbol.pk)
    assert {vault.key_of(bytes(row.bitting)) for row in rest} == {ring.current()}


def test_what_does_not_open_keeps_nobody_from_another_key(estate: Cast, settings: Settings) -> None:
    symbol = KeySymbol.objects.order_by("pk")[0]
    KeySymbol.objects.filter(pk=symbol.pk).update(bitting=bytes(symbol.bitting)[:-1])
    used = {ring.current()}
    for _ in range(2):
        with pytest.raises(CommandError, match="left as they are"):
            run("rotate", settings)
        used.add(ring.current())
    assert len(used) == 3
    rest = KeySymbol.objects.exclude(pk=symbol.pk)
    assert {vault.key_of(bytes(row.bitting)) for row in rest} == {ring.current()}


def test_large_values_are_sealed_a_few_at_a_time(
    estate: Cast, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A batch of photos or files does not fill the memory; small values go many at a time."""
    sizes: list[int] = []
    batch = resealing._reseal_batch

    def counted(model: Any, names: Any, pks: Any, closed: Any) -> int:
        rows = model._base_manager.filter(pk__in=pks)
        values = [len(getattr(row, name) or b"") for row in rows for name in names]
        sizes.append(sum(values) if len(pks) > 1 else 0)
        return batch(model, names, pks, closed)

    monkeypatch.setattr(resealing, "_reseal_batch", counted)
    monkeypatch.setattr(resealing, "MOST_BYTES", 400)
    run("rotate", settings)
    assert max(sizes) <= 400
    assert any(sizes)
    assert keys_in_use() == {ring.current()}


def test_neither_act_says_a_bitting(estate: Cast, settings: Settings) -> None:
    opened = {text.decode() for (label, _, _), text in everything().items() if label == "systems.KeySymbol"}
    said = run("rotate", settings) + run("verify", settings)
    told = said + "".join(str(event.sentence) + str(event.detail) for event in Event.objects.all())
    assert opened
    assert not [bitting for bitting in opened if bitting in told]


def test_the_outer_key_is_changed_without_a_moment_in_which_nothing_opens(
    estate: Cast, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything()
    new = tmp_path / "new.key"
    run("rewrap", settings, new_key=new)
    assert everything() == before
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = new
    ring.forget()
    assert everything() == before
    run("verify", settings)
    run("rewrap", settings, finish=True)
    ring.forget()
    assert everything() == before
    assert outer.name_of(outer.outer_key()) == outer.name_of(outer.decoded_key(new.read_text().strip()))


def test_a_new_key_needs_a_place(estate: Cast, settings: Settings) -> None:
    with pytest.raises(CommandError, match="--new-key"):
        run("rewrap", settings)


def test_init_makes_what_is_missing_once(
    db: None, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from keyctl.vault.models import DataKey

    DataKey.objects.all().delete()
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = tmp_path / "secrets" / "vault.key"
    assert "Made" in run("init", settings)
    assert DataKey.objects.count() == 2
    assert "it was not changed" in run("init", settings)
    assert DataKey.objects.count() == 2


def test_nothing_is_sealed_anew_before_there_is_a_data_key(db: None) -> None:
    from keyctl.vault.models import DataKey

    DataKey.objects.all().delete()
    ring.forget()
    with pytest.raises(Refused, match="vault init"):
        resealing.reseal(lambda _said: None)


def test_without_the_outer_key_no_act_begins(
    db: None, settings: Settings, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    settings.VAULT_KEY_FILE = tmp_path / "vault.key"
    for act in ("rotate", "rewrap"):
        with pytest.raises(CommandError, match="vault is sealed"):
            run(act, settings, new_key=tmp_path / "new.key")


def test_a_new_outer_key_that_lies_ready_is_taken(db: None, settings: Settings, tmp_path: Path) -> None:
    new = tmp_path / "new.key"
    outer.write_key(new)
    kept = new.read_text()
    run("rewrap", settings, new_key=new)
    assert new.read_text() == kept


def test_sealed_values_are_counted_without_a_key(estate: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    known = len(everything())
    monkeypatch.delenv("KEYCTL_VAULT_KEY")
    assert resealing.sealed_count() == known
