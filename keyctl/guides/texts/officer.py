"""For security officers: losses, control keys, looks."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Guide, Picture, caution, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "officer",
    _("The security officer's work"),
    _("Answer a lost key and a lost control key, be the second person, and watch who looks at secrets."),
    (Role.OFFICER,),
    (
        section(
            _("A key is lost"),
            step(
                _(
                    "The case opens in {losses} in the moment somebody reports it. Confirm it, or say "
                    "that it is none."
                ),
                losses=page("losses:list", _("Losses")),
            ),
            step(
                _(
                    "Read what the key turns: every door by the pins, its class, and what is due there "
                    "by the rules of the house."
                )
            ),
            step(
                _(
                    "Open {plans}. Other keys for these doors, the lost key taken out of the cores, a "
                    "new key in its place, or the whole part anew: each is proven before it is shown, "
                    "with cores, hours, money and people."
                ),
                plans=on("losses:plans", _("Plans side by side")),
            ),
            step(
                _(
                    "Choose one. It becomes orders; people who are concerned are called from a list. "
                    "Until the work is done, think about what guards these doors: a person, a second "
                    "lock, a shorter round."
                )
            ),
            step(
                _("The case ends when the lost cuts turn no core of any site: {prove}."),
                prove=on("losses:detail", _("Prove that the lost keys turn nothing")),
            ),
        ),
        section(
            _("A control key is lost"),
            step(
                _(
                    "Open a case under {recovery} with the locksmith. keyctl says what that key takes "
                    "out, and leads through what the construction needs: reading a core, or a working "
                    "key with it."
                ),
                recovery=page("recovery:list", _("Recovery")),
            ),
            step(
                _(
                    "You are the second person: nobody reads or cuts a control key alone. Look at the "
                    "reason and at who asks before you approve."
                )
            ),
            step(
                _(
                    "Blanks for control keys are counted under {blanks}. When the case closes, none is "
                    "unaccounted for."
                ),
                blanks=page("recovery:blanks", _("Control blanks")),
            ),
            caution(
                _(
                    "Whoever holds a control key can take every core of the system out and read it. "
                    "Treat its loss like the loss of the top master, and let a licensed locksmith decide "
                    "what may be opened and how. Never drill a fire-rated door's lock without whoever "
                    "answers for it."
                )
            ),
        ),
        section(
            _("Looks at secrets"),
            step(
                _(
                    "{looks} lists what waits for your permission: whose look, at what, and why. Grant "
                    "it only where the work is real; decline with a reason."
                ),
                looks=page("reveals:home", _("Looks")),
            ),
            step(
                _(
                    "{all} has every look that anybody took. Begin with {own}: looks for work that "
                    "people gave themselves."
                ),
                all=page("reveals:register", _("All looks")),
                own=on("reveals:register", _("For work that people gave themselves")),
            ),
            note(
                _(
                    "How much one person may see within an hour and a day is a limit for each site. "
                    "Raising it for somebody is your decision, on record."
                )
            ),
        ),
        section(
            _("Every week"),
            step(
                _(
                    "{security} says how this installation is guarded and what stands open; {exposure} "
                    "which cores let in most; {counts} what is late."
                ),
                security=page("operations:security", _("Security")),
                exposure=page("exposure:estate", _("Exposure")),
                counts=page("counts:list", _("Counts")),
            ),
            Picture("exposure", _("How exposed the cores are, by site and system.")),
        ),
    ),
    helps=("losses", "recovery", "reveals", "exposure"),
)
