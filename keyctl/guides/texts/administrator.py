"""For whoever runs keyctl. What `.deploy` says at length is named here, not said again."""

from django.utils.translation import gettext_lazy as _

from keyctl.guides.parts import Code, Commands, Guide, caution, note, on, page, section, step
from keyctl.places.roles import Role

SECURITY, RUNNING, THREATS = (
    Code(".deploy/SECURITY.md"),
    Code(".deploy/README.md"),
    Code(".deploy/THREATS.md"),
)

GUIDE = Guide(
    "administrator",
    _("The administrator's guide"),
    _(
        "Install, keys and secrets, backups, updates, sign-in, other programs, how long things are kept, "
        "what to watch, and what to do when something happens."
    ),
    (Role.ADMINISTRATOR,),
    (
        section(
            _("Install"),
            note(
                _(
                    "The files in {running} are examples for a server with TLS in front, one web service "
                    "and at least one worker. Read {security} before the first start."
                ),
                running=RUNNING,
                security=SECURITY,
            ),
            Commands(
                "python3 manage.py migrate\n"
                'python3 manage.py add_administrator yourname --name "Your Name" '
                '--site NORTH --site-name "North site"\n'
                "python3 manage.py check_security"
            ),
            step(
                _(
                    "SQLite serves one machine. For several web hosts take PostgreSQL; a backup of "
                    "either can be restored on the other."
                )
            ),
            step(
                _(
                    "Set {base}, {hosts} and {mail}. Without a mail server nothing is lost: mail waits, "
                    "and {list} shows it."
                ),
                base=Code("KEYCTL_BASE_URL"),
                hosts=Code("KEYCTL_HOSTS"),
                mail=Code("KEYCTL_EMAIL_URL"),
                list=page("notices:list", _("Mail")),
            ),
            step(
                _("{jobs} shows whether a worker is alive. Without one, nothing long is ever done."),
                jobs=page("jobs:list", _("Jobs")),
            ),
        ),
        section(
            _("Keys and secrets"),
            step(
                _(
                    "{vault} opens the bittings. Keep a copy in a safe, apart from the data and from "
                    "every backup. Without it bittings are gone, for you as for a thief."
                ),
                vault=Code("vault.key"),
            ),
            step(
                _(
                    "{django} signs sessions and seals second factors; {history} signs the history; "
                    "{backup} opens backups. Keep copies of all three; the server needs no {backup} but "
                    "for drills."
                ),
                django=Code("django.key"),
                history=Code("history.key"),
                backup=Code("backup.key"),
            ),
            note(
                _("To see that everything sealed opens, to change the data key, and to change the outer key:")
            ),
            Commands(
                "python3 manage.py vault verify\npython3 manage.py vault rotate\npython3 manage.py vault "
                "rewrap"
            ),
        ),
        section(
            _("Backup, restore, drill"),
            note(
                _(
                    "A backup is one sealed file, made while people work, read back and checked against "
                    "every law of the data before it counts."
                )
            ),
            Commands(
                "python3 manage.py backup --to FOLDER\n"
                "python3 manage.py drill --from FOLDER --key backup.key\n"
                "python3 manage.py restore FILE --key backup.key\n"
                "python3 manage.py check_estate"
            ),
            step(
                _(
                    "With {folder} set, the worker makes one every night and keeps the newest {keep}. "
                    "Let the folder lie on another machine."
                ),
                folder=Code("KEYCTL_BACKUP_DIR"),
                keep=Code("KEYCTL_BACKUP_KEEP"),
            ),
            step(_("Drill every quarter, and write the seconds down: so long you will be without keyctl.")),
            step(
                _("{data} says how old the newest backup is and what the nightly check of all data found."),
                data=page("operations:data", _("Data and backups")),
            ),
        ),
        section(
            _("Updates"),
            step(
                _(
                    "Make a backup. Stop the web service and the workers, take the new release, and let "
                    "the tables follow:"
                )
            ),
            Commands(
                "python3 manage.py backup --to FOLDER\npython3 manage.py migrate\npython3 manage.py "
                "check_security"
            ),
            step(
                _(
                    "Start again, one host first. A host whose tables are behind says so at "
                    "/health/ready and is left out by the proxy."
                )
            ),
            note(_("There is no way back to an older release but the backup you made before.")),
        ),
        section(
            _("People and how they sign in"),
            step(
                _(
                    "Give roles sparingly under {people}, each at one site. {end} takes one away; the "
                    "next click of that person feels it."
                ),
                people=page("places:people", _("People and roles")),
                end=on("places:people", _("End")),
            ),
            step(
                _(
                    "Locksmiths, managers, security officers and administrators need a second factor. "
                    "Somebody lost theirs? See the person, or call them back, then {reset} under "
                    "{signins}."
                ),
                reset=on("places:sign-ins", _("Reset factors")),
                signins=page("places:sign-ins", _("Sign-ins")),
            ),
            step(
                _(
                    "Locked out yourself: {glass} on the server makes a code for one sign-in within half "
                    "an hour. History tells of it."
                ),
                glass=Code("manage.py break_glass NAME"),
            ),
            step(
                _(
                    "People of an identity provider sign in by it ({oidc}); who comes and goes is told "
                    "by SCIM. {list} takes a table instead."
                ),
                oidc=Code("KEYCTL_OIDC_URL"),
                list=page("directory:list", _("People")),
            ),
        ),
        section(
            _("Other programs"),
            step(
                _(
                    "A program gets a token of its own under {tokens}: the sites, the least scopes it "
                    "needs, a last day, the networks it comes from."
                ),
                tokens=page("api:tokens", _("Access tokens")),
            ),
            step(
                _(
                    "{hooks} tell others what happened, by identifiers alone. First allow the host; then "
                    "make the webhook and send a test."
                ),
                hooks=page("webhooks:list", _("Webhooks")),
            ),
            caution(
                _(
                    "One scope lets a program read pins. It works only within a window that a security "
                    "officer opens, for hours. Do not give it for convenience."
                )
            ),
        ),
        section(
            _("How long things are kept"),
            step(
                _(
                    "History, custody and proofs are kept for good: they are evidence. No page and no "
                    "command takes an entry out."
                )
            ),
            step(
                _(
                    "Uploaded files go when they are taken; what an import wrote row by row goes after "
                    "90 days; files of jobs and archives go after days."
                )
            ),
            step(
                _(
                    "Addresses of people and devices are in no history. They are in your proxy's log: "
                    "decide there how long, by the rules of your country."
                )
            ),
        ),
        section(
            _("What to watch"),
            step(
                _(
                    "{security} is one list of checks: a copy of it in the log of your monitoring is "
                    "{check}, which ends with 1 or 2 where somebody should look."
                ),
                security=page("operations:security", _("Security")),
                check=Code("manage.py check_security"),
            ),
            step(
                _(
                    "/health/ready for the proxy, /metrics for Prometheus: the age of the newest backup, "
                    "jobs that wait, mail that failed, the state of the vault."
                )
            ),
            step(
                _(
                    "Copy the folder of checkpoints to a machine that others look after, and keep the "
                    "public key on paper. {history} shows both."
                ),
                history=page("history:state", _("History")),
            ),
        ),
        section(
            _("What to do when …"),
            step(
                _(
                    "… the vault is sealed: pages say that no bitting can be opened. Everything else "
                    "works. Put the key file back, or name the right one, and restart."
                )
            ),
            step(
                _(
                    "… the disk is full: pages answer 507 and nothing is half written. Make room; start "
                    "nothing anew by hand."
                )
            ),
            step(
                _(
                    "… history or data do not check: keep a copy of the database before you mend "
                    "anything, tell the security officers, and compare with the checkpoints elsewhere."
                )
            ),
            step(
                _(
                    "… the server may have been in strange hands: take it off the network, bring a "
                    "backup back on a fresh machine, change every key and token, and let the officers "
                    "decide which cores are to be rekeyed."
                )
            ),
            step(
                _(
                    "… anything else: {security} has a list by case, {threats} says against whom keyctl "
                    "holds and against whom not."
                ),
                security=SECURITY,
                threats=THREATS,
            ),
        ),
    ),
    helps=("operations", "api", "webhooks", "notices", "jobs"),
)
