"""The forms of a page as a browser would send them."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

Attributes = list[tuple[str, str | None]]


@dataclass
class Form:
    action: str
    method: str
    # By name what is sent as it stands, and every value that may be chosen instead.
    values: dict[str, list[str]] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)
    # The names of what is typed.
    typed: list[str] = field(default_factory=list)
    dates: list[str] = field(default_factory=list)

    def filled(self) -> dict[str, list[str]]:
        """As somebody sends it who typed something everywhere and took the first of what must be chosen."""
        words = {name: ["For the work"] for name in self.typed} | {
            name: ["2031-01-01"] for name in self.dates
        }
        first = {name: [value for value in offered if value][:1] for name, offered in self.choices.items()}
        said = {name: values for name, values in self.values.items() if any(values)}
        return {name: values for name, values in (first | words | said).items() if values}


class FormReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._form: Form | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(said.get("action", ""), said.get("method", "get").lower())
            self.forms.append(self._form)
        elif self._form is not None:
            self._read(self._form, tag, said)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = ""

    def _read(self, form: Form, tag: str, said: dict[str, str]) -> None:
        if tag == "select":
            self._select = said.get("name", "")
        elif tag == "option" and self._select:
            _offer(form, self._select, said.get("value", ""), is_set="selected" in said)
        elif tag == "textarea":
            form.values.setdefault(said.get("name", ""), [""])
            form.typed.append(said.get("name", ""))
        elif tag in {"input", "button"} and said.get("name"):
            if said.get("type", "text") in {"text", "search"}:
                form.typed.append(said["name"])
            if said.get("type") == "date":
                form.dates.append(said["name"])
            can_choose = said.get("type") in {"radio", "checkbox"}
            _offer(form, said["name"], said.get("value", ""), is_set=not can_choose or "checked" in said)


def _offer(form: Form, name: str, value: str, *, is_set: bool) -> None:
    form.choices.setdefault(name, []).append(value)
    if is_set:
        form.values.setdefault(name, []).append(value)


def forms_of(page: str) -> list[Form]:
    reader = FormReader()
    reader.feed(page)
    return reader.forms
