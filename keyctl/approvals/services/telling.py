"""Mail about a request, in the transaction of what it tells. It names doors and people, never a key."""

from typing import Any

from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.approvals.custom import collect_until, names_deciders, settings_of
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.roll import deciders
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at


def tell_deciders(step: Step, *, again: bool = False) -> None:
    """A decision waits for each of them. ``again``: it has waited long."""
    template = "requests/waits_long" if again else "requests/waits"
    for decider in deciders(step):
        facts = {"step": step, "for_person": decider.for_person}
        key = f"step:{step.pk}:{step.told}:{decider.user.pk}"
        _mail(decider.user, step.request, template, once_key=key, **facts)


def tell_administrators(step: Step) -> None:
    """Nobody decided, or nobody can: those who name people are told."""
    facts = {"step": step, "has_deciders": bool(deciders(step))}
    for user in people_at(step.request.building.site, Role.ADMINISTRATOR):
        key = f"step:{step.pk}:{step.told}:{user.pk}"
        _mail(user, step.request, "requests/nobody_decides", once_key=key, **facts)


def tell_decision(request: KeyRequest) -> None:
    """Approved for good, or refused: whoever asked and whoever gets the key; the desk where it goes on."""
    is_approved = request.state == KeyRequest.State.APPROVED
    template = "requests/approved" if is_approved else "requests/refused"
    _tell_askers(request, template, names_deciders=names_deciders(request))
    if is_approved:
        for user in people_at(request.building.site, Role.KEY_DESK):
            _mail(user, request, "requests/for_desk")


def tell_ready(request: KeyRequest) -> None:
    """The keys lie ready at the desk: where that is, and how long they lie there."""
    settings = settings_of(request.building.site)
    until = collect_until(request, settings)
    _tell_askers(request, "requests/ready", collect_at=settings.collect_at, until=until)


def tell_still_ready(request: KeyRequest) -> bool:
    """Half of the time is over; whether anybody had to be told."""
    settings = settings_of(request.building.site)
    until = collect_until(request, settings)
    key = f"still-ready:{request.pk}:{until:%Y-%m-%d}" if until else ""
    return _tell_askers(request, "requests/still_ready", key, collect_at=settings.collect_at, until=until)


def tell_lapsed(request: KeyRequest) -> None:
    """Nobody came for the keys: they are in stock again."""
    _tell_askers(request, "requests/lapsed")


def tell_collected(request: KeyRequest) -> None:
    """Whoever asked for somebody else; the holder, who signed, has the receipt."""
    if request.holder_user_id != request.requester_id:
        _mail(request.requester, request, "requests/collected")


def tell_ended(request: KeyRequest) -> None:
    """It ended without anybody deciding: the note says why."""
    _tell_askers(request, "requests/ended")


def _tell_askers(request: KeyRequest, template: str, once_key: str = "", **facts: Any) -> bool:
    """The holder too, who need not be somebody that signs in. Whether a message was new."""
    is_new = _mail(request.requester, request, template, once_key and f"{once_key}:asker", **facts)
    if request.holder_user_id == request.requester_id:
        return is_new
    address = request.holder.email or mail_of(request.holder_user)
    key = once_key and f"{once_key}:holder"
    return _write(request, template, address, str(request.holder), key, **facts) or is_new


def _mail(user: User, request: KeyRequest, template: str, once_key: str = "", **facts: Any) -> bool:
    return _write(request, template, mail_of(user), str(user), once_key, **facts)


def _write(request: KeyRequest, template: str, to: str, name: str, once_key: str = "", **facts: Any) -> bool:
    path = reverse("approvals:detail", args=[request.pk])
    notice = send_notice(
        to=to,
        name=name,
        kind=template.replace("/", "."),
        template=template,
        facts={"key_request": request, "path": path, **facts},
        site=request.building.site,
        about=[request],
        once_key=once_key,
    )
    return notice is not None
