"""For everybody who needs a key."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Guide, note, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "requester",
    _("Ask for a key"),
    _("Ask for doors, follow the request, and look after the key."),
    (Role.REQUESTER,),
    (
        section(
            _("Ask"),
            step(
                _(
                    "Open {ask}, choose the building and tick the doors you need. Ask for doors, not for "
                    "a key: keyctl finds the key that opens them and as little else as possible."
                ),
                ask=page("approvals:ask", _("Ask for a key")),
            ),
            step(_("Say why, and until when. A request with a reason and an end is decided sooner.")),
            step(
                _(
                    "Under {requests} you see who decides and how far it has come. You can withdraw it "
                    "as long as nobody decided."
                ),
                requests=page("approvals:list", _("Requests")),
            ),
        ),
        section(
            _("Collect it, keep it, bring it back"),
            step(
                _(
                    "When it is ready you get a mail. Collect it yourself at the key desk and sign for "
                    "it; the receipt says when it is due."
                )
            ),
            step(
                _("Your keys stand under {me}. {calendar} gives you the due days as a calendar."),
                me=page("accounts:me", _("Your keys")),
                calendar=page("desk:feeds", _("Due days in your calendar")),
            ),
            step(
                _(
                    "Asked whether you still have your keys? Tick those that are in your hand at "
                    "{declare}, not those that should be."
                ),
                declare=page("counts:mine", _("Your keys are counted")),
            ),
            note(_("Never lend a key on, never copy it, and keep no note of the door with it.")),
        ),
        section(
            _("It is gone"),
            step(
                _(
                    "Say so at once, also at night: {own}. An early report costs less than a late one, "
                    "and a key that turns up is simply given back."
                ),
                own=page("accounts:me", _("Your keys")),
            ),
        ),
    ),
)
