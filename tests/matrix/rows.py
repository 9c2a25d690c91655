"""A row of a table, and what its cells may say."""

from dataclasses import dataclass

# Served, refused, hidden, no such method, led to the sign-in, told to sign in.
YES, FORBIDDEN, HIDDEN, NO_METHOD, SIGN_IN, UNKNOWN = "yes", "403", "404", "405", "sign-in", "401"


@dataclass(frozen=True)
class Row:
    route: str
    method: str
    cells: dict[str, str]

    @property
    def key(self) -> tuple[str, str]:
        return self.route, self.method
