"""The page that Django shows of an error while somebody develops, without a single value.

A variable, an exception's words or a field of a form may hold a bitting under any name, so no list of names
decides what is hidden: types and places are shown, values never. In production there is no such page at all.
"""

import re
from collections.abc import ItemsView
from typing import Any, Final

from django.http import HttpRequest
from django.views.debug import ExceptionReporter, SafeExceptionReporterFilter

from keyctl.lib.traces import trace_without_values

NOT_SHOWN: Final = "not shown: it may hold a bitting"


class NoValues(SafeExceptionReporterFilter):
    hidden_settings = re.compile(
        "API|AUTH|TOKEN|KEY|SECRET|PASS|SIGNATURE|COOKIE|VAULT|BITTING|CUTS|PIN|URL|DATABASE|PROVIDERS", re.I
    )
    cleansed_substitute = NOT_SHOWN

    def is_active(self, _request: HttpRequest | None) -> bool:
        """Always: what a developer sees goes into reports and pictures."""
        return True

    def get_traceback_frame_variables(self, _request: Any, tb_frame: Any) -> ItemsView[str, Any]:
        return {name: type(value) for name, value in tb_frame.f_locals.items()}.items()

    def get_post_parameters(self, request: Any) -> dict[str, Any]:
        return dict.fromkeys(request.POST, NOT_SHOWN) if request is not None else {}

    def get_safe_cookies(self, request: Any) -> dict[str, Any]:
        return dict.fromkeys(getattr(request, "COOKIES", {}), NOT_SHOWN)


class PlacesOnly(ExceptionReporter):
    def get_traceback_data(self) -> dict[str, Any]:
        told = super().get_traceback_data()
        told |= {"exception_value": NOT_SHOWN, "unicode_hint": "", "template_info": None, "postmortem": None}
        told.pop("exception_notes", None)
        if "request_GET_items" in told:
            told["request_GET_items"] = [(name, NOT_SHOWN) for name, _ in told["request_GET_items"]]
        return told

    def get_traceback_frames(self) -> list[Any]:
        frames: list[Any] = super().get_traceback_frames()
        return [frame | {"exc_cause": _cause(frame["exc_cause"])} for frame in frames]


def _cause(error: BaseException | None) -> str | None:
    return None if error is None else trace_without_values(error)
