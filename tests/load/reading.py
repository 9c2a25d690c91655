"""A page as a person has it before them: its links and its forms, with what the forms hold already."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

Attributes = dict[str, str]
Fields = list[tuple[str, str]]


@dataclass
class Form:
    action: str
    method: str
    name: str = ""
    # What a browser would send if nothing were typed.
    fields: Fields = field(default_factory=list)
    # What each field may be set to, where it is chosen and not typed.
    choices: dict[str, list[str]] = field(default_factory=dict)

    def filled(self, **typed: str | list[str]) -> Fields:
        """With what is typed in the place of what stood there."""
        kept = [(name, value) for name, value in self.fields if name not in typed]
        for name, value in typed.items():
            kept += [(name, each) for each in ([value] if isinstance(value, str) else value)]
        return kept


@dataclass
class Page:
    status: int
    address: str
    text: str
    # The number of the request that was answered last.
    request: str
    headers: dict[str, str] = field(default_factory=dict)
    _parsed: "_Parser | None" = None

    @property
    def _read(self) -> "_Parser":
        if self._parsed is None:
            self._parsed = _Parser()
            self._parsed.feed(self.text)
            self._parsed.join()
        return self._parsed

    @property
    def links(self) -> list[str]:
        return self._read.links

    @property
    def forms(self) -> list[Form]:
        return self._read.forms

    @property
    def apart(self) -> dict[str, str]:
        """Fields that name a form which may stand elsewhere: a piece of a page brings them anew."""
        return {name: value for _, name, value in self._read.apart}

    def links_to(self, beginning: str, ending: str = "/") -> list[str]:
        """To pages of ours, each once, in their order."""
        found = (link for link in self.links if link.startswith(beginning) and link.endswith(ending))
        return list(dict.fromkeys(found))

    def form(self, action: str) -> Form | None:
        """The first whose action ends so; a form without one leads to the page itself."""
        for form in self.forms:
            path = (form.action or self.address).partition("?")[0]
            if path.endswith(action) and form.method == "post":
                return form
        return None


class _Parser(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.links: list[str] = []
        self.forms: list[Form] = []
        self._open: Form | None = None
        # Fields that name their form, wherever they stand.
        self.apart: list[tuple[str, str, str]] = []
        self._select = ""
        self._option_seen = False
        self._text: tuple[str, list[str]] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "a" and "href" in said:
            self.links.append(said["href"])
        elif tag == "form":
            self._open = Form(said.get("action", ""), said.get("method", "get").lower(), said.get("id", ""))
            self.forms.append(self._open)
        elif tag == "input" and said.get("name"):
            self._input(said)
        elif tag == "select":
            self._select, self._option_seen = said.get("name", ""), False
        elif tag == "option" and self._select:
            self._choice(self._select, said.get("value", ""), is_chosen="selected" in said)
        elif tag == "textarea":
            self._text = (said.get("name", ""), [])

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag == "select":
            self._select = ""
        elif tag == "textarea" and self._text is not None:
            self._put(self._text[0], "".join(self._text[1]))
            self._text = None

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text[1].append(data)

    def _input(self, said: Attributes) -> None:
        kind, name, value = said.get("type", "text"), said["name"], said.get("value", "")
        if kind in {"radio", "checkbox"}:
            self._choice(name, value or "on", is_chosen="checked" in said)
        elif kind not in {"submit", "button", "file", "image"}:
            if other := said.get("form"):
                self.apart.append((other, name, value))
            else:
                self._put(name, value)

    def _choice(self, name: str, value: str, *, is_chosen: bool) -> None:
        if self._open is None:
            return
        self._open.choices.setdefault(name, []).append(value)
        # A list from which nothing was chosen sends its first row.
        if self._select and (is_chosen or not self._option_seen):
            self._open.fields = [pair for pair in self._open.fields if pair[0] != name]
            self._put(name, value)
        elif is_chosen:
            self._put(name, value)
        self._option_seen = True

    def _put(self, name: str, value: str) -> None:
        if self._open is not None and name:
            self._open.fields.append((name, value))

    def join(self) -> None:
        for other, name, value in self.apart:
            for form in self.forms:
                if form.name == other:
                    form.fields.append((name, value))
