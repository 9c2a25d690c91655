"""The kinds of problem, each with a page that explains it."""

from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse


@dataclass(frozen=True)
class Kind:
    """One type of problem; its page at /api/v1/problems/<slug>/ shows the same words."""

    slug: str
    status: int
    title: str
    meaning: str

    @property
    def uri(self) -> str:
        return settings.BASE_URL + reverse("api:problem", args=[self.slug])


KINDS = {
    kind.slug: kind
    for kind in (
        Kind(
            "malformed",
            400,
            "The body cannot be read",
            "The body is not JSON in UTF-8. The detail names the line and column where reading stopped.",
        ),
        Kind(
            "invalid",
            400,
            "Some facts do not fit",
            "A value is missing, unknown or of the wrong form. Each entry of errors names its place: "
            "pointer for the body (a JSON pointer), parameter for the query.",
        ),
        Kind(
            "key-missing",
            400,
            "A key is missing",
            "This request must carry the header Idempotency-Key, so that it may be sent again after a lost "
            "answer. Make a new random key for each thing that you want done.",
        ),
        Kind(
            "not-authenticated",
            401,
            "No valid token",
            "Send the header 'Authorization: Bearer kc_…' with a token that is neither expired nor revoked.",
        ),
        Kind(
            "forbidden",
            403,
            "The token may not do this",
            "The token is valid, but lacks the scope, or its account the role, for this act.",
        ),
        Kind(
            "foreign-network",
            403,
            "The token is not for this place",
            "The token works from certain networks only, and the request came from elsewhere. Nothing was "
            "read or written; an administrator sees in the history that it happened.",
        ),
        Kind(
            "not-found",
            404,
            "Nothing here",
            "There is nothing at this address, or it belongs to a site that the token does not reach; "
            "the two look the same on purpose. Addresses end with a slash.",
        ),
        Kind(
            "method-not-allowed",
            405,
            "This method does not work here",
            "The header Allow lists the methods that do.",
        ),
        Kind(
            "not-acceptable",
            406,
            "No such representation",
            "Answers are application/json; allow that in the header Accept, or leave the header out.",
        ),
        Kind(
            "conflict",
            409,
            "Somebody else was first",
            "What the request relied on has changed meanwhile. Nothing was written; read again and decide.",
        ),
        Kind(
            "in-flight",
            409,
            "The first request is still at work",
            "A request with the same Idempotency-Key has not come to its end. Wait as long as the header "
            "Retry-After says, then send it again.",
        ),
        Kind(
            "feed-begins-anew",
            410,
            "The feed begins anew",
            "What you know cannot be brought up to date row by row: you were away for more than 90 days, the "
            "installation was restored from a backup, or the token reads other sites or kinds than before. "
            "Ask without since, and drop what is not listed then.",
        ),
        Kind(
            "changed-meanwhile",
            412,
            "It has changed meanwhile",
            "The tag in If-Match belongs to an older state. Nothing was written; current is how it stands "
            "now, and the header ETag is its tag. Look at it, decide, and send the change with that tag.",
        ),
        Kind(
            "too-large",
            413,
            "The body is too large",
            "Send fewer things in one request.",
        ),
        Kind(
            "unsupported-media-type",
            415,
            "The body is of another type",
            "Send application/json and say so in the header Content-Type.",
        ),
        Kind(
            "refused",
            422,
            "A rule forbids it",
            "The request is well formed, but a rule of the house forbids the act. Nothing was written; "
            "the detail and the entries of errors say why and what to do.",
        ),
        Kind(
            "key-reused",
            422,
            "The key belongs to another request",
            "The same Idempotency-Key came before with another body or at another address. Nothing was "
            "written; take a new key for a new request.",
        ),
        Kind(
            "tag-missing",
            428,
            "A tag is missing",
            "A change says in the header If-Match which state it was made for: send the ETag that came with "
            "the last answer. So nobody overwrites what they have not seen.",
        ),
        Kind(
            "too-many-requests",
            429,
            "Too many requests",
            "The token has asked for all that it may in this minute. The header Retry-After says in how many "
            "seconds it goes on; RateLimit and RateLimit-Policy say with every answer what is left.",
        ),
        Kind(
            "vault-sealed",
            503,
            "The vault is sealed",
            "Its key is not there, so nobody sees a bitting or a pin just now. Everything else works; "
            "whoever runs the installation puts the key back.",
        ),
    )
}
