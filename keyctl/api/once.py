"""A request that carries a key is done once, however often it is sent (the IETF's draft on Idempotency-Key).

The key is claimed first, so that a second request finds the first at work. Then the answer is written in the
transaction of what the request did: both are there, or neither.
"""

import json
import re
import uuid
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

from django.db import DatabaseError, transaction
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.translation import gettext_noop
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from keyctl.api.models import KeptAnswer, Token
from keyctl.api.problems import BadHeader, Problem
from keyctl.lib.retold import kept_text

HEADER = "Idempotency-Key"
# A string as structured fields write it (RFC 9651, 3.3.3), or its signs alone, as many programs send it.
KEY = re.compile(
    r'"(?P<string>(?:[\x20\x21\x23-\x5b\x5d-\x7e]|\\["\\]){1,200})"|(?P<bare>[!#-+\--:<-\[\]-~]{1,200})'
)

KEPT_FOR = timedelta(hours=48)
# Whoever was not heard of for so long has died. If not, it finds its claim gone, and undoes its work.
GIVEN_UP_AFTER = timedelta(minutes=1)

Work = Callable[[], Response]
FORGOTTEN = kept_text(gettext_noop("Answers kept for programs, forgotten: {count}."))


def read_key(request: Request, *, required: bool = False) -> str:
    """The key's digest; empty where none came."""
    text = request.headers.get(HEADER)
    if text is None:
        if required:
            raise Problem("key-missing")
        return ""
    if not (found := KEY.fullmatch(text.strip())):
        words = 'Write a string of 1 to 200 signs between quotation marks, as "8e03978e-40d5".'
        raise BadHeader({HEADER: [words]})
    return sha256((found["string"] or found["bare"]).encode()).hexdigest()


def done_once(request: Request, token: Token, key: str, work: Work) -> HttpResponseBase:
    """``work`` in a transaction of its own, or the answer that it gave before."""
    claimed = claim(token=token, key=key, request=_fingerprint(request))
    if claimed.status is not None:
        return _again(claimed)
    try:
        with transaction.atomic():
            answer = work()
            _keep(claimed, answer)
    except Exception:
        # What was refused has written nothing: the same key may come again. If this fails too, it runs out.
        with suppress(DatabaseError):
            _own(claimed).delete()
        raise
    return answer


def answer_kept(request: Request, token: Token, key: str) -> HttpResponseBase | None:
    """For a look ahead of what else may be wrong by now: the thing may be gone, by the first request."""
    found = KeptAnswer.objects.filter(token=token, key=key).exclude(status=None).first() if key else None
    return _again(found) if found and found.request == _fingerprint(request) else None


@transaction.atomic
def claim(*, token: Token, key: str, request: str) -> KeptAnswer:
    """The key as a claim of one's own, or with the answer that is kept for it."""
    now = timezone.now()
    row, is_new = KeptAnswer.objects.get_or_create(
        token=token, key=key, defaults={"request": request, "claimed_at": now}
    )
    if is_new:
        return row
    found = KeptAnswer.objects.select_for_update().filter(pk=row.pk).first()
    if found is not None and found.request != request:
        raise Problem("key-reused")
    if found is None or (found.status is None and found.claimed_at > now - GIVEN_UP_AFTER):
        raise Problem("in-flight", headers={"Retry-After": "1"})
    if found.status is None:
        found.claim, found.claimed_at = uuid.uuid4(), now
        found.save(update_fields=["claim", "claimed_at"])
    return found


def forget_answers(now: datetime) -> str:
    """The routine: answers nobody will ask for again."""
    gone, _ = KeptAnswer.objects.filter(claimed_at__lt=now - KEPT_FOR).delete()
    return FORGOTTEN.format(count=gone)


def _again(kept: KeptAnswer) -> HttpResponse:
    answer = HttpResponse(
        kept.body, status=kept.status, headers=kept.headers, content_type="application/json"
    )
    if not kept.body:
        del answer["Content-Type"]
    return answer


def _keep(claimed: KeptAnswer, answer: Response) -> None:
    headers = {name: answer[name] for name in ("Location", "ETag") if name in answer}
    body = "" if answer.data is None else JSONRenderer().render(answer.data).decode()
    kept = _own(claimed).update(status=answer.status_code, headers=headers, body=body)
    if not kept:
        raise Problem("in-flight", headers={"Retry-After": "1"})


def _own(claimed: KeptAnswer) -> Any:
    return KeptAnswer.objects.filter(pk=claimed.pk, claim=claimed.claim, status=None)


def _fingerprint(request: Request) -> str:
    """What was asked, whatever the blanks in its body."""
    asked = [request.method, request.get_full_path(), request.data]
    return sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()
