"""The classes of pages, scripts and drawings against those of the style sheets, both ways, and `/design/`."""

import re
from collections.abc import Iterator
from pathlib import Path

from django.template.loader import render_to_string

from tests.design.sheets import OF_PAPER, rules

ROOT = Path(__file__).resolve().parents[2]
PAGES = ROOT / "templates"
WRITTEN = re.compile(r'(?<![\w-])class="((?:[^"{]|\{[{%].*?[%}]\})*)"')
TOLD = re.compile(r"\{[{%#].*?[%#}]\}")
# Where a template decides.
HOLE = "\0"
COMPONENTS = ("components.css", "panels.css", "tables.css", "forms.css")
# On pages of their own, where they make the whole page; and what scripts say of a page that waits.
ELSEWHERE = {"door", "door-tag", "recovery-codes", "is-waiting", "is-busy"}


def templates() -> Iterator[Path]:
    """Of pages: paper and mail have their own."""
    for file in sorted(PAGES.rglob("*.html")):
        if file.relative_to(PAGES).parts[0] not in {"prints", "emails"}:
            yield file


def written() -> dict[str, str]:
    """Every class that a template writes out, with one that does; holes where it decides."""
    found: dict[str, str] = {}
    for file in templates():
        for classes in WRITTEN.findall(file.read_text()):
            for name in TOLD.sub(HOLE, classes).split():
                found.setdefault(name, file.relative_to(PAGES).as_posix())
    return found


def styled(*files: str) -> set[str]:
    return set().union(*(rule.classes for rule in rules(*files)))


def words_of_the_product() -> set[str]:
    files = [*templates(), *(ROOT / "static" / "js").rglob("*.js"), *(ROOT / "keyctl").rglob("*.py")]
    return set().union(*(re.findall(r"[a-zA-Z][\w-]*", file.read_text()) for file in files))


def on_paper_too() -> set[str]:
    """Parts of pages that prints show as well."""
    texts = [file.read_text() for file in (PAGES / "prints").rglob("*.html")]
    return {part for text in texts for part in re.findall(r'include "([^"]+)"', text)}


def test_no_page_names_a_class_without_a_rule() -> None:
    known, of_paper, shared = styled(), styled(OF_PAPER), on_paper_too()
    named = {name: where for name, where in written().items() if HOLE not in name and name not in known}
    assert {name: where for name, where in named.items() if where not in shared or name not in of_paper} == {}


def test_no_rule_stands_for_a_class_that_nothing_names() -> None:
    beginnings = tuple(name.partition(HOLE)[0] for name in written() if name.partition(HOLE)[0].endswith("-"))
    unused = {name for name in styled() - words_of_the_product() if not name.startswith(beginnings)}
    assert unused == set()


def test_the_page_of_the_design_shows_every_component() -> None:
    page = render_to_string("design/index.html")
    shown = {name for classes in re.findall(r'class="([^"]*)"', page) for name in classes.split()}
    assert styled(*COMPONENTS) - shown - ELSEWHERE == set()
