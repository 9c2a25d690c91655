"""Words for the invented estate. No site, building, room or person here exists."""

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
