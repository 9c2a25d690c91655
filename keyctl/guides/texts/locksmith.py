"""For locksmiths: a system, a core, a swap, and an area in waves."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Guide, Picture, caution, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "locksmith",
    _("The locksmith's work"),
    _("Design and extend a key system, pin a core, swap it and log it, and rekey an area in waves."),
    (Role.LOCKSMITH,),
    (
        section(
            _("Design a system, and let it grow"),
            step(
                _(
                    "Draft it under {design}: format, keyway, and how many keys stand below each key of "
                    "every level. {work} counts the room before any key exists."
                ),
                design=page("systems:draft-new", _("Design a key system")),
                work=on("systems:draft-new", _("Work out")),
            ),
            step(
                _(
                    "If it is a list of locks and keys in any shape, draw a lock chart under {charts}. "
                    "keyctl finds bittings for it, or names the few requirements that clash."
                ),
                charts=page("charts:list", _("Lock charts")),
            ),
            step(
                _(
                    "Later, open a master and choose {extend}. {look} shows what the next free changes "
                    "would open that nobody meant; then make them."
                ),
                extend=on("systems:capacity", _("Capacity")),
                look=on("systems:extend", _("Look at it first")),
            ),
            note(
                _(
                    "Leave room. A system that is used to its last change has no answer to a lost master "
                    "but new keys for all."
                )
            ),
            Picture("draft", _("A draft of a larger system.")),
        ),
        section(
            _("Pin a core"),
            step(
                _(
                    "Open {pin} and tick the cores. {shortage} on the order says what the kits hold too "
                    "little of."
                ),
                pin=page("orders:new-pin", _("Pin cores")),
                shortage=on("orders:detail", _("At the bench")),
            ),
            step(
                _(
                    "Take the cores in the order that the bench page gives: it opens the kits fewest "
                    "times. Show the stacks or print the sheet; both are recorded."
                ),
            ),
            step(
                _(
                    "Try every key, say what you saw, then press {keep}. If a key does something else, "
                    "do not force it: read the pins under {bench} and compare."
                ),
                keep=on("orders:bench-core", _("Keep what they did")),
                bench=page("bench:home", _("Bench")),
            ),
            caution(
                _(
                    "The pins that keyctl works out do not replace your judgement. Do not let a core "
                    "leave that you have not tried yourself, and destroy printed sheets after use."
                )
            ),
        ),
        section(
            _("Swap a core and log it"),
            step(
                _(
                    "Open {swap} for the doors, or take the order you were given under {orders}. {route} "
                    "sorts today's doors by your way."
                ),
                swap=page("orders:new-swap", _("Swap cores")),
                orders=page("orders:list", _("Work orders")),
                route=page("orders:route", _("Doors on my way")),
            ),
            step(
                _(
                    "Scan the core. {goes} asks for nothing that the register knows; then exchange, try, "
                    "tick the checks and press {finish}."
                ),
                goes=on("orders:swap", _("This core goes in")),
                finish=on("orders:swap", _("Finish the swap")),
            ),
            step(
                _(
                    "Without a network use {field}: what you do is kept on the tablet and sent later. "
                    "What contradicts the register becomes a case, and a person settles it."
                ),
                field=page("field:app", _("At the door")),
            ),
            caution(
                _(
                    "At a way out, the door must open from the inside without a key, a tool or special "
                    "knowledge before you leave it. At a fire-rated door, check that it closes and "
                    "latches. At a lock-out point, only the person whose lock it is takes it off. Local "
                    "codes come first."
                )
            ),
        ),
        section(
            _("Rekey an area in waves"),
            step(
                _(
                    "Start under {rotations}: choose the doors, the keys that they get, the crew and the "
                    "spare cores."
                ),
                rotations=page("rotations:list", _("Rotations")),
            ),
            step(
                _(
                    "keyctl deals the doors into waves with the fewest visits it can prove. Doors that "
                    "share a key stay together in time, so that few people carry two keys."
                ),
            ),
            step(
                _(
                    "Each wave is an order of its own with a sheet. Cores that come back are emptied and "
                    "pinned for the next one."
                ),
            ),
            step(_("The rotation ends when the old keys turn nothing of the area, and says so by a proof.")),
        ),
    ),
    helps=("orders", "systems", "charts", "bench", "rotations", "stock", "cores"),
)
