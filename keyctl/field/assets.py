"""What a tablet keeps of the field app: the names of its files, and one version of them and its words."""

import hashlib
import json
import re
from functools import cache
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.utils.translation import get_language, override

FOLDER = Path(settings.BASE_DIR) / "static"
SHELL = "field/app.html"
WORKER = FOLDER / "js" / "field" / "worker.js"
# Runs before the first paint, so it is no module.
LOOK = FOLDER / "js" / "field" / "look.js"
APP = FOLDER / "js" / "field" / "app.js"
IMPORTED = re.compile(r'^(?:import|export) .* from "(\./[^"]+|\.\./[^"]+)";$', re.MULTILINE)

STYLES = ("tokens", "base", "layout", "components", "panels", "forms", "scan", "field")
ICONS = ("icons/keyctl.svg", "icons/field.svg", "icons/field-192.png", "icons/field-512.png")
# A megabyte that only some browsers need: fetched once the app runs, so that it never holds up the start.
LAZY = ("vendor/zxing-reader-*.js", "vendor/zxing-reader-*.wasm")


def kept() -> list[Path]:
    """Without these the app does not start."""
    styles = [FOLDER / "css" / f"{name}.css" for name in STYLES]
    return [*styles, LOOK, *modules(), *(FOLDER / name for name in ICONS)]


def modules() -> list[Path]:
    return sorted(file for file in (FOLDER / "js" / "field").rglob("*.js") if file not in {WORKER, LOOK})


def first_modules() -> list[Path]:
    """What the first page imports: named in the frame, so that they are fetched side by side."""
    found, waiting = set[Path](), [APP]
    while waiting:
        file = waiting.pop()
        found.add(file)
        waiting += {(file.parent / name).resolve() for name in IMPORTED.findall(file.read_text())} - found
    return sorted(found)


def kept_later() -> list[Path]:
    return sorted(file for pattern in LAZY for file in FOLDER.glob(pattern))


def addresses(files: list[Path]) -> list[str]:
    return [static(file.relative_to(FOLDER).as_posix()) for file in files]


def is_said_at_first(text: str) -> bool:
    """Whether it stands in a script of the first page, as scripts write what they say."""
    return json.dumps(text, ensure_ascii=False) in _first_source()


@cache
def _first_source() -> str:
    return "".join(file.read_text() for file in first_modules())


def catalogues() -> list[Path]:
    """What the scripts say, compiled, one file for each language but English."""
    return sorted(
        file for folder in settings.LOCALE_PATHS for file in Path(folder).glob("*/LC_MESSAGES/djangojs.mo")
    )


def version() -> str:
    """In the language that is spoken now: whoever changes theirs gets another app, whole, and keeps it."""
    return version_in(get_language() or settings.LANGUAGE_CODE)


@cache
def version_in(language: str) -> str:
    """Another one as soon as a byte of the app differs; a server reads its files once for each language."""
    with override(language):
        digest = hashlib.sha256(frame("").encode())
    for file in [*kept(), *kept_later(), *catalogues(), WORKER]:
        digest.update(file.name.encode() + b"\0" + hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()[:16]


def frame(version: str) -> str:
    """The page as all get it in the language spoken now: without a request, so with no name and no token."""
    facts = {"version": version, "styles": STYLES, "modules": addresses(first_modules())}
    return render_to_string(SHELL, facts)
