"""Lengths for people: inches first, as the trade counts, and millimetres beside them."""

MM_PER_INCH = 25.4


def inches(length: float) -> str:
    """Three decimals, four where the length needs them.

    A tenth of a thousandth is finer than any micrometer on the bench reads.
    """
    text = f"{length:.4f}"
    return text.removesuffix("0")


def in_both_units(length: float) -> str:
    return f"{inches(length)} in ({length * MM_PER_INCH:.3f} mm)"
