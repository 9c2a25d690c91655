"""Read settings from the environment; a value that cannot be read stops the start with one sentence."""

import os
import re
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off", ""}


def text(name: str, default: str) -> str:
    return os.environ.get(name, default)


def flag(name: str, default: bool) -> bool:
    value = os.environ.get(name)
    if value is None:
        return default
    if value.lower() in _TRUE | _FALSE:
        return value.lower() in _TRUE
    raise ImproperlyConfigured(f"{name} is {value!r}; write 1 or 0.")


def choice(name: str, default: str, *others: str) -> str:
    value = os.environ.get(name) or default
    if value not in {default, *others}:
        raise ImproperlyConfigured(f"{name} is {value!r}; write {' or '.join((default, *others))}.")
    return value


def words(name: str, default: str) -> list[str]:
    return [word for word in text(name, default).replace(",", " ").split() if word]


def address(name: str) -> str:
    """Where somebody is reached, as one line of a page that programs read; empty where nobody is named."""
    value = os.environ.get(name, "").strip()
    if value and not re.fullmatch(r"(mailto:|https://|tel:)[!-~]+", value):
        raise ImproperlyConfigured(f"{name} is {value!r}; write mailto:…, https://… or tel:…, no space.")
    return value


def folder(name: str, default: Path) -> Path:
    return Path(os.environ.get(name) or default).expanduser().resolve()


def folder_or_none(name: str) -> Path | None:
    return Path(os.environ[name]).expanduser().resolve() if os.environ.get(name) else None


def number(name: str, default: int) -> int:
    value = os.environ.get(name) or str(default)
    if not value.isdecimal() or int(value) < 1:
        raise ImproperlyConfigured(f"{name} is {value!r}; write a whole number from 1.")
    return int(value)


def secret(name: str, file: Path) -> str:
    """The secret from the environment, else from its file, which the first start makes (mode 0600)."""
    if value := os.environ.get(name):
        return value
    if not file.exists():
        write_secret(file, secrets.token_urlsafe(48))
    return file.read_text(encoding="ascii").strip()


def write_secret(file: Path, value: str) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="ascii") as handle:
        handle.write(value + "\n")
