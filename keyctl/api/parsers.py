"""Bodies come in as JSON in UTF-8, up to a size, and a mistake is told with its line."""

from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from keyctl.api.problems import BodyTooLarge
from keyctl.lib.bodies import JsonBounds, NotJson, TooLarge, read_json

BOUNDS = JsonBounds(bytes=256 * 1024)


class JsonBody(JSONParser):
    def parse(
        self,
        stream: IO[Any],
        _media_type: str | None = None,
        _parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        try:
            return read_json(stream.read(BOUNDS.bytes + 1), BOUNDS)
        except TooLarge:
            raise BodyTooLarge from None
        except NotJson as fault:
            raise ParseError(str(fault)) from None
