"""Routes that are asked for by GET and answer no page of ours, each with the reason."""

FILE = "a file"
PLAIN = "text for programs"
LEADS_ON = "leads on to a page that is looked at"

UNSWEPT: dict[str, str] = {
    "accounts:passkey-options": PLAIN,
    "accounts:provider-callback": "nothing is there without an identity provider; then it leads on",
    "accounts:second-factor": "stands between a password and the sign-in; test_passkeys.py looks at it",
    "api:docs": "a viewer made by others, far larger than a page; test_api_docs.py looks at it",
    "api:schema": PLAIN,
    "charts:example": FILE,
    "desk:feed": "a calendar",
    "field:lookup": LEADS_ON,
    "field:manifest": "a description for the browser",
    "field:pack": PLAIN,
    "field:page-words": PLAIN,
    "field:photo-picture": "a picture",
    "field:state": PLAIN,
    "field:words": "a script",
    "field:worker": "a script",
    "find-by-tag": LEADS_ON,
    "history:proof": FILE,
    "history:verifier": FILE,
    "imports:report": FILE,
    "operations:contact": PLAIN,
    "operations:live": PLAIN,
    "operations:metrics": PLAIN,
    "operations:ready": PLAIN,
}
