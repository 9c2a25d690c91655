"""How an answer says that nothing was done: a form to mend, or somebody else was first."""

CONFLICT = 409
UNPROCESSABLE = 422
