"""From an empty installation to a proven estate; `tests/browser/test_first_hour.py` walks the same way."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Code, Commands, Guide, Picture, caution, note, on, page, section, step
from keyctl.places.roles import Role

GUIDE = Guide(
    "first-hour",
    _("Your first hour"),
    _(
        "From an empty installation to doors, a key system, pinned cores, a swapped core, a key handed "
        "out, and the proof that it all agrees."
    ),
    (Role.ADMINISTRATOR,),
    (
        section(
            _("Before you begin"),
            note(_("On the server, make the tables and the first administrator with the first site:")),
            Commands(
                "python3 manage.py migrate\n"
                'python3 manage.py add_administrator yourname --name "Your Name" '
                '--site NORTH --site-name "North site"\n'
                "python3 manage.py work        # beside the server, always: it does the long work"
            ),
            note(
                _(
                    "keyctl asks you for a password there. Copy {key} to a safe place now: without it no "
                    "bitting can be opened again."
                ),
                key=Code("vault.key"),
            ),
        ),
        section(
            _("Sign in and let the others in"),
            step(
                _(
                    "Sign in. Your role is trusted with secrets, so keyctl asks for a second factor "
                    "before anything else: a passkey, or an app for codes."
                )
            ),
            step(
                _(
                    "Make the recovery codes with {make}, print them or write them down, and keep them "
                    "where you keep passwords."
                ),
                make=on("accounts:recovery-codes", _("Make and show them")),
            ),
            step(
                _(
                    "Open {people} and press {add} for each colleague: at least one locksmith and one "
                    "person of the key desk. The code that appears is for their first sign-in; hand it "
                    "over in person."
                ),
                people=page("places:people", _("People and roles")),
                add=on("places:people", _("Add the person")),
            ),
            step(
                _(
                    "Somebody who does two jobs gets the second role by {give}. A role that ends is "
                    "ended there too."
                ),
                give=on("places:people", _("Give the role")),
            ),
            Picture("hour-roles", _("People and their roles, each at one site.")),
        ),
        section(
            _("Bring the doors in"),
            note(_("A spreadsheet with a row for each door is enough. This is the smallest useful one:")),
            Commands(
                "Building,Floor,Level,Number,Room,Class,Egress,Fire-rated,Locks\n"
                "LIB,Ground floor,0,001,Main entrance,restricted,yes,no,rim\n"
                "LIB,Ground floor,0,004,Office,ordinary,no,no,mortise"
            ),
            step(
                _(
                    "As administrator, open {bring}, choose {doors} and the file, and press {send}. Only "
                    "an administrator adds buildings; a locksmith adds doors to those that are there."
                ),
                bring=page("imports:new", _("Bring a file in")),
                doors=on("imports:new", _("Doors")),
                send=on("imports:bring", _("Bring it in")),
            ),
            step(
                _(
                    "Look at what keyctl took each column for, correct it, and press {attempt}. Do not "
                    "forget the locks: a door without one holds no core."
                ),
                attempt=on("imports:columns", _("Try it")),
            ),
            step(
                _(
                    "Read the dry run. Nothing is written yet. Correct the rows with errors in your file "
                    "and bring it in again; then press {take}."
                ),
                take=on("imports:detail", _("Take it")),
            ),
            Picture("hour-dry-run", _("A dry run: what would be new, before anything is written.")),
            caution(
                _(
                    "Which doors are ways out, fire-rated or accessible decides how work is done at "
                    "them. A list can be wrong: look at the doors with whoever answers for them. The "
                    "local code decides, not the file."
                )
            ),
        ),
        section(
            _("Make a key system"),
            note(
                _(
                    "From here on you are the locksmith. If there is a system already, bring its list in "
                    "under {inherited} instead; if there is none, design one."
                ),
                inherited=page("inherited:list", _("Inherited")),
            ),
            step(
                _(
                    "Open {design}. Give it a name and a code, choose the core format and the keyway, "
                    "and say how many keys you want below each key of every level. Two masters with "
                    "sixteen changes each is a good size to try."
                ),
                design=page("systems:draft-new", _("Design a key system")),
            ),
            step(
                _(
                    "Press {work} and read {room}: keyctl counts exactly how many keys each level can "
                    "have. Change the draft until there is enough left to grow."
                ),
                work=on("systems:draft-new", _("Work out")),
                room=on("systems:draft", _("Room on each level")),
            ),
            step(
                _("Press {make}. The bittings are drawn by chance and sealed; nobody sees a list of them."),
                make=on("systems:draft", _("Make the keys")),
            ),
            Picture("hour-draft", _("A draft, with the room of every level.")),
        ),
        section(
            _("Pin ten cores"),
            step(
                _(
                    "Bring ten cores in from a table with the columns Key system, Keyed to and Where it "
                    "is ({bench}), or register them one by one under {register}. Each gets a tag that "
                    "tells a finder nothing."
                ),
                bench=Code("bench"),
                register=page("cores:register", _("Register a core")),
            ),
            step(
                _(
                    "Open {pin}, tick the cores, press {open} and on the order {all}. keyctl works the "
                    "pins out for all keys of a core at once."
                ),
                pin=page("orders:new-pin", _("Pin cores")),
                open=on("orders:new-pin", _("Open the order")),
                all=on("orders:detail", _("Pin all lines")),
            ),
            step(
                _(
                    "Follow {bench}. {show} asks who you are once more, and is written down; or print "
                    "the pinning sheet."
                ),
                bench=on("orders:detail", _("At the bench")),
                show=on("orders:bench-core", _("Show its stacks")),
            ),
            step(
                _(
                    "Load the core, turn every key you have in it, say what each did, scan the tag and "
                    "press {keep}. A core leaves the bench only when its keys did what its pins say."
                ),
                keep=on("orders:bench-core", _("Keep what they did")),
            ),
            caution(
                _(
                    "Try every core by hand with its own key, a master, the control key, and a key that "
                    "must not turn it. A control key takes cores out: keep it off every ring and count "
                    "it back the same day."
                )
            ),
        ),
        section(
            _("Swap a core at a door"),
            step(
                _(
                    "Open the door in the {estate}, choose Swap, and say what it is for; or open {swap} "
                    "and find the doors there."
                ),
                estate=page("cores:estate", _("Estate")),
                swap=page("orders:new-swap", _("Swap cores")),
            ),
            step(
                _(
                    "At the door, scan the core that goes in and press {goes}. keyctl says whether it "
                    "fits, and who could open the door afterwards."
                ),
                goes=on("orders:swap", _("This core goes in")),
            ),
            step(
                _(
                    "Exchange the cores, say where the old one lies, try the keys, tick the three checks "
                    "and press {finish}."
                ),
                finish=on("orders:swap", _("Finish the swap")),
            ),
            Picture("hour-swap", _("The swap at the door, with the three checks.")),
            caution(
                _(
                    "Never leave a way out that does not open from the inside without a key, and never "
                    "change a fire-rated or accessible door in a way that the local code does not allow."
                )
            ),
        ),
        section(
            _("Hand a key out"),
            step(
                _(
                    "The key desk opens a cabinet under {cabinets}: copies are cut into one and come "
                    "back into one."
                ),
                cabinets=page("keys:cabinets", _("Cabinets")),
            ),
            step(
                _(
                    "The locksmith opens {cut}, writes how many copies of which key, cuts them by the "
                    "cutting list, tries them, and presses {booked}. Each copy gets a serial."
                ),
                cut=page("orders:new-cut", _("Cut keys")),
                booked=on("orders:detail", _("Cut and put in the cabinet")),
            ),
            step(
                _("The desk writes the person down with {holder}, under {keys}."),
                holder=on("keys:new-holder", _("Register the holder")),
                keys=page("keys:desk", _("Keys")),
            ),
            step(
                _(
                    "At the {desk}, type or scan the person, then the serial, press Enter once more, and "
                    "let the person sign. The receipt is there at once."
                ),
                desk=page("desk:home", _("Desk")),
            ),
            Picture("hour-desk", _("A key on the list, signed for.")),
        ),
        section(
            _("Prove the estate"),
            step(
                _(
                    "Open {proofs}, choose the whole estate and press {prove}. keyctl tries every key on "
                    "the pins of every core and sets what turns against the plan."
                ),
                proofs=page("proofs:list", _("Proofs")),
                prove=on("proofs:list", _("Prove now")),
            ),
            step(
                _(
                    "If there is a finding, it names its cause and what to do. When nothing is left, the "
                    "estate on the wall is the estate in the book."
                )
            ),
            Picture("hour-proof", _("The proof of the estate.")),
            note(
                _(
                    "Then read the guides of your own work, set the {rules}, and let the administrator's "
                    "guide tell you about backups before real keys are in it."
                ),
                rules=page("approvals:rules", _("Approval rules")),
            ),
        ),
    ),
    helps=("places", "imports"),
)
