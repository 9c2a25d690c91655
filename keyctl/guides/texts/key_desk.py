"""For the key desk: out, in, and counted."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Guide, Picture, caution, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "key-desk",
    _("The key desk's work"),
    _("Hand keys out, take them back, remind, and count them."),
    (Role.KEY_DESK,),
    (
        section(
            _("Hand keys out"),
            step(
                _(
                    "Open the {desk}. Scan the card of the person or type the name, then scan each key. "
                    "One wrong scan? {undo} takes it off."
                ),
                desk=page("desk:home", _("Desk")),
                undo=on("desk:issue", _("Undo the last")),
            ),
            step(
                _(
                    "Check the day they are due back, press Enter alone, and let the person sign: drawn, "
                    "or by their name. {hand} ends it, and the receipt goes out by mail."
                ),
                hand=on("desk:issue", _("Hand them out")),
            ),
            step(
                _("Approved requests wait under {waiting}; their keys are set aside already."),
                waiting=page("approvals:desk", _("At the desk")),
            ),
            Picture("hour-desk", _("One list, signed once.")),
            note(_("Who approved a master key does not hand it out: another person at the desk does.")),
        ),
        section(
            _("Take keys back"),
            step(
                _(
                    "Choose {back} at the desk and scan the keys. keyctl knows who had them. Say in "
                    "which cabinet they hang and whether one is damaged."
                ),
                back=on("desk:issue", _("Return")),
            ),
            step(
                _(
                    "{overdue} lists who is late, with every reminder that went out. {leavers} shows who "
                    "is going and still has keys."
                ),
                overdue=on("desk:issue", _("Overdue")),
                leavers=page("leavers:list", _("Leavers")),
            ),
            step(
                _(
                    "A key that somebody says is lost is a loss from that moment: open the copy in the "
                    "{register} and report it. Do not wait whether it turns up."
                ),
                register=page("keys:register", _("Register")),
            ),
            caution(
                _(
                    "Do not stamp symbols, door numbers or names of buildings on keys: the serial tells "
                    "a finder nothing."
                )
            ),
        ),
        section(
            _("Count"),
            step(
                _(
                    "{counts} lists what is due by the rules of the house. Start one for a cabinet, a "
                    "person or a set of keys."
                ),
                counts=page("counts:list", _("Counts")),
            ),
            step(
                _(
                    "Count blind: scan what is there, without looking at what should be. Somebody else "
                    "watches where the rule says so."
                )
            ),
            step(
                _(
                    "Each difference becomes a case that lives until it is explained. Nothing is "
                    "corrected in silence."
                )
            ),
        ),
    ),
    helps=("desk", "keys", "counts", "leavers", "directory"),
)
