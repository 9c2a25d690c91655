"""Reading the pictures of a page by a parser of XML, which refuses what is not well-formed."""

import re
from typing import Any
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


def pictures(answer: Any) -> list[ElementTree.Element]:
    assert answer.status_code == 200
    page: str = answer.content.decode()
    found = re.findall(r"<svg .*?</svg>", page, re.DOTALL)
    assert found
    drawn = [each.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1) for each in found]
    return [ElementTree.fromstring(each) for each in drawn]  # noqa: S314 (our own answer)


def the_map(answer: Any) -> ElementTree.Element:
    """The one picture with a title of its own, and every pattern it names."""
    (drawn,) = [each for each in pictures(answer) if each.find(f"{SVG}title") is not None]
    ids = {each.get("id") for each in drawn.iter()}
    for each in drawn.iter():
        fill = each.get("fill") or ""
        assert not fill.startswith("url(") or fill[5:-1] in ids
        assert (
            (each.get("href") or "#cell")[0] != "#" or each.get("href", "")[1:] in ids or not each.get("href")
        )
        assert each.get("style") is None
    labelled = (drawn.get("aria-labelledby") or "").split()
    assert labelled
    assert set(labelled) <= ids
    return drawn


def links(drawn: ElementTree.Element) -> list[str]:
    return [each.get("href") or "" for each in drawn.iter(f"{SVG}a")]


def texts(drawn: ElementTree.Element) -> list[str]:
    return [(each.text or "").strip() for each in drawn.iter(f"{SVG}text")]
