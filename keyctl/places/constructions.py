"""What cores are built like, and so which housings take them, in words."""

from django.utils.translation import gettext_lazy

CONSTRUCTIONS = {
    "small-format": gettext_lazy("Small-format core"),
    "large-format": gettext_lazy("Large-format core"),
    "full-size": gettext_lazy("Full-size core"),
    "padlock": gettext_lazy("Padlock core"),
    "ordinary": gettext_lazy("Ordinary cylinder"),
}


def construction_words(construction: str) -> str:
    return str(CONSTRUCTIONS.get(construction, construction.replace("-", " ").capitalize()))
