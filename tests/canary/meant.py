"""The reviewed list: answers that may show a secret, and why. Everything else shows none."""

# By the beginning of an artefact's name.
MEANT = {
    "SHOWN~api.core-pins": "one core's pins, for a token for nothing else, while an officer lets it",
    "SHOWN~cores.pinning": "one core's pins, for a locksmith whose open order names it; history knew before",
}
