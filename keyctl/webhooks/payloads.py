"""What a message says: what happened, when, and ids. Whoever may know more reads it by REST."""

import json
from datetime import datetime
from typing import Any

from keyctl.audit.models import Link
from keyctl.webhooks.kinds import type_of


def payload(kind: str, at: datetime, data: dict[str, Any]) -> str:
    """As the specification has it; the text is what is signed, byte for byte."""
    return json.dumps(
        {"type": type_of(kind), "timestamp": at.isoformat(), "data": data}, separators=(",", ":")
    )


def payload_of(link: Link) -> str:
    """The entry as the resource `events` tells it, without a word that people wrote."""
    event = link.event
    subjects = [{"kind": each.kind, "id": str(each.subject_id)} for each in event.subjects.all()]
    data = {"number": link.number, "site": str(event.site_id), "subjects": sorted(subjects, key=str)}
    return payload(event.verb, event.at, data)
