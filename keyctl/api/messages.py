"""What webhooks send, in the published description: OpenAPI 3.1 keeps it beside the operations."""

from typing import Any

SUBJECT = {
    "type": "object",
    "required": ["kind", "id"],
    "properties": {"kind": {"type": "string"}, "id": {"type": "string", "format": "uuid"}},
}
EVENT = {
    "type": "object",
    "required": ["number", "site", "subjects"],
    "properties": {
        "number": {"type": "integer", "description": "The event's number: events/{number}/ tells the rest."},
        "site": {"type": "string", "format": "uuid"},
        "subjects": {"type": "array", "items": SUBJECT},
    },
}
TEST = {
    "type": "object",
    "required": ["endpoint"],
    "properties": {"endpoint": {"type": "string", "format": "uuid"}},
}
HEADERS = {
    "webhook-id": "The message's mark: the same at each try.",
    "webhook-timestamp": "When this try was made, in seconds since 1970.",
    "webhook-signature": "v1, and HMAC-SHA256 of id.timestamp.body in base64; one for each secret in force.",
}


def describe_messages(result: dict[str, Any], **_facts: Any) -> dict[str, Any]:
    result["webhooks"] = {
        "event": _message(
            "An event at a site", {"type": "string", "description": "Such as key.lost."}, EVENT
        ),
        "webhook.test": _message("A test that somebody asked for", {"const": "webhook.test"}, TEST),
    }
    return result


def _message(summary: str, kind: dict[str, Any], data: dict[str, Any]) -> dict[str, Any]:
    body = {
        "type": "object",
        "required": ["type", "timestamp", "data"],
        "properties": {"type": kind, "timestamp": {"type": "string", "format": "date-time"}, "data": data},
    }
    parameters = [
        {"name": name, "in": "header", "required": True, "description": words, "schema": {"type": "string"}}
        for name, words in HEADERS.items()
    ]
    taken = {"2XX": {"description": "Taken. Any other answer, or none in ten seconds, is tried again."}}
    request = {"required": True, "content": {"application/json": {"schema": body}}}
    return {
        "post": {"summary": summary, "parameters": parameters, "requestBody": request, "responses": taken}
    }
