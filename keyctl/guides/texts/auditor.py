"""For auditors: how to check the evidence, without trusting us."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Code, Commands, Guide, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "auditor",
    _("The auditor's work"),
    _("Check the evidence: who did what, who holds what, what the cores do, and that nobody rewrote it."),
    (Role.AUDITOR,),
    (
        section(
            _("The history"),
            step(
                _(
                    "Every act is one entry, written with the act itself. On the page of any thing, "
                    "“What happened” lists its entries; behind each stands its {proof}."
                ),
                proof=on("history:event", _("Proof of an event")),
            ),
            step(
                _(
                    "{state} says up to where the chain is signed, and when it was last checked. Compare "
                    "the public key there with the one you were given on paper."
                ),
                state=page("history:state", _("History")),
            ),
            step(
                _(
                    "Download a proof and check it away from here with {verifier}: one file of plain "
                    "Python that needs nothing of keyctl."
                ),
                verifier=Code("verifier.py"),
            ),
            note(_("On the server, all of it at once:")),
            Commands("python3 manage.py check_history\npython3 manage.py export_history --help"),
            note(
                _(
                    "Two things a chain alone cannot show: entries newer than the last signature that "
                    "were taken off its end, and a whole older state brought back. The checkpoints that "
                    "you keep on a machine of your own find the second; ask for them before you ask for "
                    "anything else."
                )
            ),
        ),
        section(
            _("Keys"),
            step(
                _(
                    "The {register} has each copy in exactly one place. {sums} holds copies against the "
                    "acts: cut = with holders + in cabinets + lost + destroyed."
                ),
                register=page("keys:register", _("Register")),
                sums=page("keys:law", _("Does it add up?")),
            ),
            step(
                _(
                    "{counts} shows what was counted when, by whom and before whom, and each difference "
                    "to its end. The evidence of a site is one print."
                ),
                counts=page("counts:list", _("Counts")),
            ),
        ),
        section(
            _("Cores and rights"),
            step(
                _(
                    "{proofs} lists every proof of the estate with its findings, and what was accepted "
                    "by whom until when."
                ),
                proofs=page("proofs:list", _("Proofs")),
            ),
            step(
                _(
                    "{looks} is the register of who saw which secret, on what ground. {exports} is that "
                    "of lists that left the house."
                ),
                looks=page("reveals:register", _("All looks")),
                exports=page("prints:exports", _("Exports")),
            ),
            step(
                _("{security} tells what is checked of this installation, and what is not."),
                security=page("operations:security", _("Security")),
            ),
        ),
    ),
    helps=("history", "prints", "proofs"),
)
