"""What the routes of jobs ask for."""

from keyctl.lib.policy import Named, Policy
from keyctl.places.policies import ADMINISTRATOR
from keyctl.places.roles import STAFF

JOB = Named("jobs.Job")
FILE = Named("jobs.JobFile", ("job__site",))

POLICIES = {
    "list": Policy.for_roles(reads=STAFF),
    "routines": Policy.for_roles(reads=ADMINISTRATOR),
    "detail": Policy.for_roles(reads=STAFF, at=JOB),
    "cancel": Policy.for_roles(writes=STAFF, at=JOB),
    "resume": Policy.for_roles(writes=STAFF, at=JOB),
    "file": Policy.for_roles(writes=STAFF, at=FILE),
}
