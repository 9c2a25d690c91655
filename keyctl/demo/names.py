"""Words for the invented estate. No site, building, room or person here exists."""

from random import Random

from keyctl.lib.tags import ALPHABET

SITES = (
    "North Hill",
    "Riverside",
    "Harbour Annexe",
    "Mill Lane",
    "Old Quarry",
    "West Meadow",
    "Station Yard",
)

BUILDINGS = (
    "Alder House",
    "Beech Hall",
    "Cedar Court",
    "Dogwood Wing",
    "Elm Laboratories",
    "Fir Library",
    "Gorse Workshop",
    "Hazel Theatre",
    "Ivy Lodge",
    "Juniper Sports Hall",
    "Larch Institute",
    "Maple Union",
)

ROOMS = (
    "Office",
    "Seminar room",
    "Laboratory",
    "Store",
    "Workshop",
    "Reading room",
    "Meeting room",
    "Print room",
    "Archive",
    "Kitchen",
    "Studio",
    "Study",
)

PLANT_ROOMS = ("Plant room", "Switch room", "Riser cupboard", "Meter cupboard", "Pump room")

HOLDERS = ("Estates", "Teaching", "Research", "Catering", "Cleaning", "Security", "Library", "Contractor")

REASONS = (
    "New in the team",
    "Evening course in these rooms",
    "Covering for a colleague",
    "Equipment check every week",
)

TERMS = """\
The key stays the property of the house. I keep it with me or locked away, lend it to nobody, have
no copy made of it, and write on it neither a door nor a building.
I bring it back to the key desk on the day it is due, or sooner when I no longer need it.
If it is lost or stolen I tell the key desk at once, at any hour.
I know that the house may ask for a deposit, and may charge what the loss of a key costs.
"""


def tag(rng: Random) -> str:
    """Of the same shape as a real one, and the same again from the same seed."""
    return "".join(rng.choices(ALPHABET, k=12))
