"""For managers: decisions."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Guide, caution, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "manager",
    _("The manager's work"),
    _("Decide requests for keys with their effect in sight, and name who stands in for you."),
    (Role.MANAGER,),
    (
        section(
            _("Decide a request"),
            step(
                _("{decisions} lists what waits for you, the oldest first."),
                decisions=page("approvals:decisions", _("Decisions")),
            ),
            step(
                _(
                    "Open the request and read the doors that the key would open: those that were asked "
                    "for, and those that come with it. That is worked out from the pins, not from the "
                    "plan."
                )
            ),
            step(
                _(
                    "Approve it, or refuse it with a sentence that helps the person to ask better. Often "
                    "a smaller key does: choose another of the proposals."
                )
            ),
            note(
                _(
                    "You never decide your own request, nor one by whoever stands in for you. Silence "
                    "approves nothing: after some days a request goes on to others."
                )
            ),
        ),
        section(
            _("When you are away"),
            step(
                _(
                    "Name somebody for the days under {substitutes}: {name}. Whoever asked for a key "
                    "does not decide on it in your place."
                ),
                substitutes=page("approvals:substitutes", _("Substitutes")),
                name=on("approvals:substitute-name", _("Name the substitute")),
            ),
        ),
        section(
            _("Know what your building is like"),
            step(
                _("The {estate} shows for each door who can open it, and by which key."),
                estate=page("cores:estate", _("Estate")),
            ),
            step(
                _(
                    "{proofs} says whether cores do what the plan says; {temporary} lists the cores of "
                    "building works and the day they must leave."
                ),
                proofs=page("proofs:list", _("Proofs")),
                temporary=page("interim:list", _("Temporary cores")),
            ),
            caution(
                _(
                    "A key for a way out is no substitute for a door that opens from the inside. Local "
                    "codes and whoever answers for fire protection and accessibility decide what may be "
                    "locked at all."
                )
            ),
        ),
    ),
    helps=("approvals", "interim"),
)
