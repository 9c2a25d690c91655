import pytest
from hypothesis import given
from hypothesis import strategies as st

from keyctl.keys.signing import HEIGHT, WIDTH, Signature, checked_signature, clean_path
from keyctl.lib.errors import Refused

GOOD = "M10 10L200 40L10 80L90 90L10 120L40 80"


@pytest.mark.parametrize(
    "path",
    [
        GOOD + '"/><script>',
        GOOD + "C1 1 2 2 3 3",
        GOOD + "L-1 4",
        GOOD + "L1e3 4",
        GOOD + "L1 2 3",
        GOOD + "Z",
        "L1 1" + GOOD,
        "M1 1",
        "url(#a)",
        GOOD + "L1\n2",
        GOOD.replace(" ", "\u00a0"),
        GOOD.replace("1", "\u0661"),
    ],
)
def test_nothing_but_the_small_grammar_passes(path: str) -> None:
    with pytest.raises(Refused, match="cannot be read"):
        clean_path(path)


def test_a_path_as_long_as_a_book_is_refused() -> None:
    with pytest.raises(Refused, match="cannot be read"):
        clean_path("M1 1" + "L2 2" * 10_000)


@pytest.mark.parametrize("path", [f"{GOOD}L{WIDTH + 1} 2", f"{GOOD}L2 {HEIGHT + 1}", f"{GOOD}L9999 2"])
def test_strokes_stay_in_the_field(path: str) -> None:
    with pytest.raises(Refused, match="out of its field"):
        clean_path(path)


@pytest.mark.parametrize("path", ["M5 5L6 6", "M5 5L6 6L5 5L6 6L5 5L6 6L5 5"])
def test_a_dot_is_no_signature(path: str) -> None:
    with pytest.raises(Refused, match="too little for a signature"):
        clean_path(path)


points = st.tuples(st.integers(0, WIDTH), st.integers(0, HEIGHT))


@given(st.lists(st.lists(points, min_size=2, max_size=9), min_size=1, max_size=5))
def test_what_passes_is_read_again_as_the_same_points(strokes: list[list[tuple[int, int]]]) -> None:
    path = " ".join(
        " ".join(f"{'L' if nth else 'M'} {x},{y}" for nth, (x, y) in enumerate(stroke)) for stroke in strokes
    )
    flat = [point for stroke in strokes for point in stroke]
    across, down = [x for x, _ in flat], [y for _, y in flat]
    if len(flat) < 6 or max(max(across) - min(across), max(down) - min(down)) < 20:
        with pytest.raises(Refused):
            clean_path(path)
        return
    kept = clean_path(path)
    assert kept == clean_path(kept)
    read = [tuple(map(int, part.split())) for part in kept.replace("M", "L").split("L")[1:]]
    assert read == flat


def test_a_name_is_one_line_and_not_a_paragraph() -> None:
    assert checked_signature(Signature(" Ann \n Lee ")).name == "Ann Lee"
    with pytest.raises(Refused, match="longer than 120"):
        checked_signature(Signature("x" * 121))
    with pytest.raises(Refused, match="Nobody has signed"):
        checked_signature(Signature(" \t "))
