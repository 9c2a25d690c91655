"""What a tablet keeps of the field app: the names of its files, and one version made from all of them."""

import hashlib
from functools import cache
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string
from django.templatetags.static import static

FOLDER = Path(settings.BASE_DIR) / "static"
SHELL = "field/app.html"
WORKER = FOLDER / "js" / "field" / "worker.js"
# Runs before the first paint, so it is no module.
LOOK = FOLDER / "js" / "field" / "look.js"

STYLES = ("tokens", "base", "layout", "components", "panels", "forms", "scan", "field")
ICONS = ("icons/keyctl.svg", "icons/field.svg", "icons/field-192.png", "icons/field-512.png")
# A megabyte that only some browsers need: fetched once the app runs, so that it never holds up the start.
LAZY = ("vendor/zxing-reader-*.js", "vendor/zxing-reader-*.wasm")


def kept() -> list[Path]:
    """Without these the app does not start."""
    styles = [FOLDER / "css" / f"{name}.css" for name in STYLES]
    return [*styles, LOOK, *modules(), *(FOLDER / name for name in ICONS)]


def modules() -> list[Path]:
    """Named in the frame, so that they are fetched side by side and not one after the other."""
    return sorted(file for file in (FOLDER / "js" / "field").rglob("*.js") if file not in {WORKER, LOOK})


def kept_later() -> list[Path]:
    return sorted(file for pattern in LAZY for file in FOLDER.glob(pattern))


def addresses(files: list[Path]) -> list[str]:
    return [static(file.relative_to(FOLDER).as_posix()) for file in files]


@cache
def version() -> str:
    """Another one as soon as a byte of the app differs; a server reads its files once."""
    digest = hashlib.sha256(frame("").encode())
    for file in [*kept(), *kept_later(), WORKER]:
        digest.update(file.name.encode() + b"\0" + hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()[:16]


def frame(version: str) -> str:
    """The page as everybody gets it: made without a request, so that it holds nobody's name and no token."""
    facts = {"version": version, "styles": STYLES, "modules": addresses(modules())}
    return render_to_string(SHELL, facts)
