"""Every colour that stands upon another, computed from the style sheets in each look.

The referee is WCAG 2.2: its relative luminance and contrast ratio, 4.5:1 for words (1.4.3; 7:1 in high
contrast, 1.4.6) and 3:1 for what bounds a control or carries a meaning (1.4.11).
"""

import re
from collections.abc import Iterator

import pytest

from tests.design.sheets import Rule, rules

PAIR = re.compile(r"light-dark\(\s*([^,]+?)\s*,\s*(.+?)\s*\)$")
# Which rules of the tokens hold in a look, which side of a pair, and what words and graphics need there.
LOOKS = {
    "light": ((":root",), 0, 4.5, 3.0),
    "dark": ((":root",), 1, 4.5, 3.0),
    "light, high contrast": ((":root", '[data-contrast="more"]'), 0, 7.0, 3.0),
    "dark, high contrast": ((":root", '[data-contrast="more"]'), 1, 7.0, 3.0),
    "bright sun": ((":root", ':root[data-theme="contrast"]'), 0, 7.0, 3.0),
}
PAPERS = ("ground", "plate", "well")
WASHES = ("accent-wash", "good-wash", "warn-wash", "bad-wash", "info-wash")
ON_SPINE = ("spine-ink", "spine-ink-2", "brass")
# Each bounds a control, or a meaning hangs on it.
GRAPHICS = ("line-strong", "accent", "good", "warn", "bad", "info", "focus")
# By each kind of tag and message: see `_of_wash`.
NAMED_ELSEWHERE = {"tag-ink", "tag-wash", "note-ink", "note-wash"}
PINS = ("pin-bottom", "pin-master", "pin-control", "pin-top")


def luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    long = digits if len(digits) == 6 else "".join(2 * digit for digit in digits)
    parts = [int(long[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    red, green, blue = (_linear(part) for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def tokens_in(look: str) -> dict[str, str]:
    selectors, side, _, _ = LOOKS[look]
    found: dict[str, str] = {}
    for selector in selectors:
        for rule in rules("tokens.css", "field.css"):
            if rule.selector == selector and not any(words.startswith("@media") for words in rule.within):
                found |= {name[2:]: value for name, value in rule.facts.items() if name.startswith("--")}
    pairs = {name: PAIR.match(value) for name, value in found.items()}
    sided = {name: pair[side + 1] if (pair := pairs[name]) else value for name, value in found.items()}
    return {name: _resolved(sided, value) for name, value in sided.items()}


def _resolved(tokens: dict[str, str], value: str) -> str:
    while named := re.fullmatch(r"var\(--([a-z0-9-]+)\)", value):
        value = tokens[named[1]]
    return value


def words_upon() -> set[tuple[str, str]]:
    """Colours of words and of what they stand upon: as a rule sets both, else upon each paper."""
    return {pair for rule in rules() for pair in (*_of_words(rule), *_of_wash(rule))}


def _of_words(rule: Rule) -> Iterator[tuple[str, str]]:
    is_drawn = "font" in rule.facts or "font-size" in rule.facts
    for colour in rule.variables("color", *(["fill"] if is_drawn else [])):
        upon = rule.variables("background", "background-color") or _papers_for(colour)
        yield from ((colour, each) for each in upon if not {colour, each} & NAMED_ELSEWHERE)


def _papers_for(colour: str) -> tuple[str, ...]:
    if colour in ON_SPINE:
        return ("spine",)
    return (*PAPERS, *WASHES) if colour in {"ink", "ink-2"} else (*PAPERS, *_own_wash(colour))


def _own_wash(colour: str) -> tuple[str, ...]:
    return (f"{colour}-wash",) if f"{colour}-wash" in WASHES else ()


def _of_wash(rule: Rule) -> Iterator[tuple[str, str]]:
    """Tags and messages name their ink and their wash; the sign of a tag stands on plain paper."""
    for ink, wash in (("--tag-ink", "--tag-wash"), ("--note-ink", "--note-wash")):
        for colour in rule.variables(ink):
            yield from ((colour, upon) for upon in (*rule.variables(wash), "plate"))


def graphics_upon() -> Iterator[tuple[str, str]]:
    yield from ((colour, paper) for colour in GRAPHICS for paper in PAPERS)
    yield from (("pin-edge", pin) for pin in PINS)
    yield from ((line, upon) for line in ("shear-operating", "shear-control") for upon in ("plate", *PINS))
    yield "brass", "spine"


def too_pale(look: str, pairs: set[tuple[str, str]], least: float) -> dict[str, float]:
    tokens = tokens_in(look)
    ratios = {f"{one} on {other}": contrast(tokens[one], tokens[other]) for one, other in sorted(pairs)}
    return {words: round(ratio, 2) for words, ratio in ratios.items() if ratio < least}


def test_the_ratio_is_the_standards() -> None:
    """Its ends, and the lightest grey that is enough upon white, as designers quote it."""
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#fff", "#fff") == 1
    assert contrast("#767676", "#fff") >= 4.5 > contrast("#777777", "#fff")


@pytest.mark.parametrize("look", LOOKS)
def test_words_can_be_read_upon_what_they_stand_on(look: str) -> None:
    assert len(words_upon()) > 40
    assert too_pale(look, words_upon(), LOOKS[look][2]) == {}


@pytest.mark.parametrize("look", LOOKS)
def test_what_bounds_a_control_or_carries_a_meaning_is_seen(look: str) -> None:
    assert too_pale(look, set(graphics_upon()), LOOKS[look][3]) == {}


def test_high_contrast_is_the_same_by_wish_and_by_choice() -> None:
    more = [rule for rule in rules("tokens.css") if "data-contrast" in rule.selector]
    by_wish, by_choice = more
    assert "@media (prefers-contrast: more)" in by_wish.within
    assert by_wish.facts == by_choice.facts
