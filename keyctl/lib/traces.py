"""What is written down of an exception: where it happened, never its own words."""

import traceback


def trace_without_values(error: BaseException) -> str:
    """The type and the places. A database quotes the values it refused, and one of them may be a bitting."""
    places = (f"{frame.filename}:{frame.lineno}" for frame in traceback.extract_tb(error.__traceback__))
    return f"{type(error).__name__} at {' > '.join(places)}"
