"""What the documents promise exists."""

import re
from pathlib import Path

from django.apps import apps

ROOT = Path(__file__).parent.parent
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_map_names_every_app() -> None:
    ours = {
        config.name.split(".")[1] for config in apps.get_app_configs() if config.name.startswith("keyctl.")
    }
    assert ours == {name for name in ours if f"      {name}/" in DEVELOPERS}


def test_the_map_names_every_module_of_pinning() -> None:
    modules = {file.stem for file in (ROOT / "pinning").glob("*.py")} - {"__init__", "errors", "fields"}
    assert modules == {name for name in modules if re.search(rf"\b{name}\b", DEVELOPERS)}


def test_every_setting_is_listed() -> None:
    code = "".join(file.read_text(encoding="utf-8") for file in (ROOT / "keyctl").rglob("*.py"))
    used = set(re.findall(r'"(KEYCTL_[A-Z_]+)"', code))
    assert used == {name for name in used if f"`{name}`" in DEVELOPERS}


def test_the_readme_shows_pictures_that_exist() -> None:
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)
    assert pictures
    assert [picture for picture in pictures if not (ROOT / picture).is_file()] == []


def test_the_readme_names_the_two_commands() -> None:
    assert "python3 manage.py demo" in README
    assert "python3 manage.py test" in README
