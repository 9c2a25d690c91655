"""What the field app's scripts say, in two parts: the first page waits for its own words alone.

Texts of the program only: nothing of the estate is in a catalogue.
"""

import json
from typing import Any

from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.views.decorators.http import require_GET
from django.views.i18n import JavaScriptCatalog

from keyctl.accounts.http import Request
from keyctl.field import assets

# The worker keeps page and words only with this, so it never keeps another page that stands at the address,
# nor words of another language.
VERSION_HEADER = "X-Field-Version"
# What English does, where a catalogue says nothing.
PLURAL = "n != 1"


class Catalogue(JavaScriptCatalog):
    """As a script that runs before the modules; `say.js` looks texts up in it."""

    is_first = True

    def get_catalog(self) -> dict[str, list[str] | str]:
        said = super().get_catalog()
        return {key: words for key, words in said.items() if self._has(key)}

    def _has(self, key: str) -> bool:
        """A word that means two things has which one before it, and a sign between."""
        return assets.is_said_at_first(key.rpartition("\x04")[2]) is self.is_first

    def render_to_response(self, context: dict[str, Any], **_kwargs: Any) -> HttpResponse:
        said, plural = json.dumps(context["catalog"], ensure_ascii=False), context["plural"] or PLURAL
        script = f"globalThis.spoken = {{ which: (n) => Number({plural}), said: {said} }};\n"
        return HttpResponse(script, content_type="text/javascript; charset=utf-8")


class LaterCatalogue(Catalogue):
    """Added to the first by `say.js`, before the other pages come."""

    is_first = False

    def render_to_response(self, context: dict[str, Any], **_kwargs: Any) -> HttpResponse:
        return JsonResponse(context["catalog"], json_dumps_params={"ensure_ascii": False})


@require_GET
def words(request: Request) -> HttpResponseBase:
    return _of_this_version(_first(request))


@require_GET
def page_words(request: Request) -> HttpResponseBase:
    return _of_this_version(_later(request))


def _of_this_version(answer: HttpResponseBase) -> HttpResponseBase:
    answer.headers[VERSION_HEADER] = assets.version()
    return answer


_first = Catalogue.as_view()
_later = LaterCatalogue.as_view()
