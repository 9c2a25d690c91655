"""The pictures of README.md and of the guides, made by the tests of the browser.

``python -m tests.browser.pictures`` runs the tests that make them and writes those that are named here into
``.pictures``; names after it choose some. Other pictures stay in the folder that ``KEYCTL_PICTURES`` names.
"""

import io
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from tests.browser.conftest import Tablet

ROOT = Path(__file__).parents[2]
KEPT = ROOT / ".pictures"
HEAVIEST = 60_000
# Pictures of guides are as wide as a guide, and light: a page shows several.
GUIDE_WIDTH, GUIDE_HEAVIEST = 920, 25_000
QUALITIES = range(84, 30, -6)
HOUR = "tests/browser/test_first_hour.py"
ROUND = "tests/browser/test_every_page.py"
# What a kept picture is called, and the name under which a test leaves it.
PICTURES = {
    HOUR: {
        name: name
        for name in ("hour-roles", "hour-dry-run", "hour-draft", "hour-swap", "hour-desk", "hour-proof")
    },
    ROUND: {
        "door": "door-tablet-light",
        "core": "core-tablet-light",
        "draft": "draft-tablet-light",
        "exposure": "exposure-tablet-light",
        "bench": "read-pins-tablet-light",
        "request": "request-tablet-light",
        "desk": "desk-issue-tablet-light",
        "loss": "loss-plans-tablet-light",
    },
}


def keep(tablet: "Tablet", name: str) -> None:
    """For whoever asked for pictures: what the tablet shows now."""
    if folder := os.environ.get("KEYCTL_PICTURES"):
        tablet.wait_until_quiet()
        tablet.page.screenshot(path=Path(folder) / f"{name}.png")


def light(picture: bytes, *, of_guide: bool) -> bytes:
    """As WebP, as good as the bound lets it be."""
    with Image.open(io.BytesIO(picture)) as opened:
        image = opened.convert("RGB")
    if of_guide:
        image = image.resize((GUIDE_WIDTH, round(image.height * GUIDE_WIDTH / image.width)))
    bound = GUIDE_HEAVIEST if of_guide else HEAVIEST
    for quality in QUALITIES:
        made = io.BytesIO()
        image.save(made, "WEBP", quality=quality, method=6)
        if made.tell() <= bound:
            return made.getvalue()
    raise SystemExit(f"A picture of {len(picture)} bytes does not become light enough.")


def main(chosen: list[str]) -> None:
    for test, names in PICTURES.items():
        wanted = {name: source for name, source in names.items() if not chosen or name in chosen}
        if wanted:
            renew(test, wanted)


def renew(test: str, names: dict[str, str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(  # noqa: S603 (our own tests)
            [sys.executable, "-m", "pytest", "-q", test],
            check=True,
            cwd=ROOT,
            env=os.environ | {"KEYCTL_PICTURES": folder},
        )
        for name, source in names.items():
            file = KEPT / f"{name}.webp"
            file.write_bytes(light((Path(folder) / f"{source}.png").read_bytes(), of_guide=test == HOUR))
            sys.stdout.write(f"{file.relative_to(ROOT)} {file.stat().st_size}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
