"""By what right somebody decides a step, read in the transaction that decides; or a sentence that says no."""

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.models import Deciders, Step, Substitute
from keyctl.approvals.roll import Decider, deciders, roll_of
from keyctl.keys.access import stands_for
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text, in_sentence

ANOTHER = {
    Deciders.BUILDING: gettext_lazy("Another manager of the building decides it."),
    Deciders.OFFICER: gettext_lazy("Another security officer decides it."),
    Deciders.NAMED: gettext_lazy("Another of the named people decides it."),
}


def decider_for(actor: User, step: Step) -> Decider:
    """Roles and substitutions may have ended since the page was shown."""
    found = next((each for each in deciders(step) if each.user.pk == actor.pk), None)
    if found is None or stands_for(step.request.holder, actor):
        raise Refused(why_not(actor, step))
    return found


def decides(actor: User, step: Step) -> bool:
    found = any(each.user.pk == actor.pk for each in deciders(step))
    return found and not stands_for(step.request.holder, actor)


def why_not(actor: User, step: Step) -> str:
    """Why the actor does not decide the step, with what to do instead."""
    another = ANOTHER[Deciders(step.who)]
    if step.asked_by_id == actor.pk:
        return _("You asked for this key yourself. {another}").format(another=another)
    # A holder may have been tied to a sign-in since the key was asked for.
    if step.asked_for_id == actor.pk or stands_for(step.request.holder, actor):
        return _("This key is for you. {another}").format(another=another)
    return _linked(actor, step, another) or _decided_before(actor, step) or _no_right(actor, step)


def _linked(actor: User, step: Step, another: Text) -> str:
    """Nobody approves for whoever stands in for them, nor a substitute for whom they stand in."""
    for each in roll_of([step]).substitutes:
        asks = {step.asked_by_id, step.asked_for_id}
        if each.person_id == actor.pk and each.stands_in_id in asks:
            return _("{person} asks for it or gets it, and stands in for you. {another}").format(
                person=each.stands_in, another=another
            )
        if each.stands_in_id == actor.pk and each.person_id in asks:
            return _("{person} asks for it or gets it, and you stand in for them. {another}").format(
                person=each.person, another=another
            )
    return ""


def _decided_before(actor: User, step: Step) -> str:
    if not step.is_apart:
        return ""
    others = step.request.steps.filter(is_apart=True).exclude(pk=step.pk)
    if others.filter(decided_by=actor).exists():
        return _(
            "You decided an earlier step of this request. It takes two people: somebody else decides now."
        )
    if others.filter(for_person=actor).exists():
        return _("An earlier step of this request was decided in your place. Somebody else decides this one.")
    return ""


def _no_right(actor: User, step: Step) -> str:
    stood_in = Substitute.objects.filter(
        stands_in=actor, site=step.request.building.site_id, since__lte=timezone.localdate()
    )
    ended = stood_in.exclude(pk__in=Substitute.objects.in_force().values("pk")).select_related("person")
    if last := ended.order_by("until").last():
        return _(
            "You no longer stand in for {person}. The page of the request names who may decide it."
        ).format(person=last.person)
    return _("You may not decide this step, or no longer. It is for: {label}.").format(
        label=in_sentence(step.label)
    )
