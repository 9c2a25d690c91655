"""Bodies come in as JSON in UTF-8, up to a size, and a mistake is told with its line."""

import json
from collections.abc import Mapping
from typing import IO, Any, NoReturn

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from keyctl.api.problems import BodyTooLarge

MAX_BYTES = 256 * 1024


class JsonBody(JSONParser):
    def parse(
        self,
        stream: IO[Any],
        _media_type: str | None = None,
        _parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        raw = stream.read(MAX_BYTES + 1)
        if len(raw) > MAX_BYTES:
            raise BodyTooLarge
        try:
            return json.loads(raw.decode("utf-8"), parse_constant=_refuse_constant)
        except UnicodeDecodeError as error:
            raise ParseError(f"The body is not UTF-8: see byte {error.start + 1}.") from None
        except json.JSONDecodeError as error:
            raise ParseError(f"Line {error.lineno}, column {error.colno}: {error.msg}.") from None
        except (RecursionError, ValueError) as error:
            raise ParseError(f"The body is not JSON that this server reads: {error}.") from None


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON value")
