"""Every index says, in the migration that adds it, which page or rule it is for."""

import re
from pathlib import Path

from django.apps import apps

ROOT = Path(__file__).resolve().parents[2]
NAMED = re.compile(
    r'^\s*# \S.*\.\n\s*(?:index=|"indexes": \[)?models\.Index\((?:(?!models\.Index\()[^#])*?name="(\w+)"',
    re.M,
)


def test_every_index_is_explained_where_it_is_added() -> None:
    files = [file for app in (ROOT / "keyctl").iterdir() for file in app.glob("migrations/*.py")]
    explained = {name for file in files for name in NAMED.findall(file.read_text())}
    ours = [model for model in apps.get_models() if model.__module__.startswith("keyctl.")]
    named = {index.name for model in ours for index in model._meta.indexes}
    assert sorted(named - explained) == []


def test_an_index_without_a_word_is_found() -> None:
    said = '# Why.\nmodels.Index(fields=["a"], name="one"),\nmodels.Index(fields=["b"], name="other"),\n'
    assert NAMED.findall(said) == ["one"]
