"""Hands on a page, whose every act is counted.

What counts as one act, and nothing else is done to a page by these hands:

- a tap: on a link, a button, a choice or a box to tick; a list that opens and the choice from it are two;
- a key: each press of Enter, Space or an arrow; Tab, Shift+Tab and the skip link only lead on
  and are told beside them;
- a field: going into it by a tap and typing, together one act; by keyboard the typing is one act;
- a scan: a reader types what it reads and ends with Enter, into the field that has the focus already;
- a signature drawn with a finger.

Reading is no act, nor is what the person says or does beside the screen. Counting begins where the person
stands when the work comes up (the table names the page) and ends with the sentence that says it is done.
The browser's own events are the referee: as many touches and keys must have arrived there as were counted.

``Fingers`` work a tablet by touch and a code reader, ``Keyboard`` works without any pointer.
"""

from playwright.sync_api import Locator, Page, expect

# Every touch and key that arrives, kept beside the page since a page that is left takes its memory along.
LISTEN = """
for (const kind of ["pointerdown", "mousedown", "keydown"]) {
  window.addEventListener(kind, (event) => {
    if (!event.isTrusted) return;
    const name = kind === "mousedown" ? "mouse" : kind === "keydown" ? "keys" : event.pointerType;
    sessionStorage.setItem(name, Number(sessionStorage.getItem(name)) + 1);
  }, true);
}
"""
ARRIVED = "(name) => Number(sessionStorage.getItem(name))"
MOST_TABS = 150


class Hands:
    """What both ways have in common; ``acts`` names each in order."""

    way = ""
    LISTEN = LISTEN

    def __init__(self, page: Page) -> None:
        self.page = page
        self.acts: list[str] = []
        self.moves = 0
        self.keys_pressed = 0

    @property
    def count(self) -> int:
        return len(self.acts)

    def scan(self, text: str) -> None:
        """A reader types into what has the focus; where nothing has, the scan would be lost."""
        expect(self.page.locator("input:focus")).to_have_count(1)
        self._type(text)
        self._key("Enter")
        self.acts.append("scan")

    def _type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.keys_pressed += len(text)

    def _key(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.keys_pressed += 2 if key == "Shift+Tab" else 1

    def arrived(self, name: str) -> int:
        return int(self.page.evaluate(ARRIVED, name))


class Fingers(Hands):
    """Touch and a code reader."""

    way = "touch and scan"

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        self.touches = 0

    def press(self, what: Locator) -> None:
        self._touch(what)
        self.acts.append("tap")

    tick = press

    def enter(self, field: Locator, text: str) -> None:
        self._touch(field)
        self._type(text)
        self.acts.append("field")

    def choose(self, field: Locator, label: str) -> None:
        """A list of the system, which no page can open: its two taps are counted, not made."""
        field.select_option(label=label)
        self.acts += ["tap", "tap"]

    def sign(self, _name: str) -> None:
        board = self.page.locator(".desk-field")
        board.scroll_into_view_if_needed()
        box = board.bounding_box()
        assert box is not None
        # A browser under test takes no strokes of a finger, so the pointer draws.
        for step in range(14):
            height = 0.3 if step % 4 < 2 else 0.7
            self.page.mouse.move(
                box["x"] + box["width"] * (0.2 + 0.04 * step), box["y"] + box["height"] * height
            )
            if not step:
                self.page.mouse.down()
        self.page.mouse.up()
        self.acts.append("signature")

    def go_on(self) -> None:
        """By touch the next field is in sight; by keyboard it is a key away."""

    def _touch(self, what: Locator) -> None:
        what.tap()
        self.touches += 1

    def check(self) -> None:
        assert (self.arrived("touch"), self.arrived("keys")) == (self.touches, self.keys_pressed)


class Keyboard(Hands):
    """No pointer at all. On the way it looks at each stop of the focus."""

    way = "keyboard"

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        self.faults: list[str] = []

    def press(self, what: Locator) -> None:
        self._reach(what)
        self._act("Enter")

    def tick(self, box: Locator) -> None:
        if box.get_attribute("type") == "radio":
            self._reach_radio(box)
        else:
            self._reach(box)
        if not box.is_checked():
            self._act("Space")

    def enter(self, field: Locator, text: str) -> None:
        self._reach(field)
        self._type(text)
        self.acts.append("field")

    def choose(self, field: Locator, label: str) -> None:
        """A list takes the beginning of what is meant, as a field does."""
        self._reach(field)
        self._type(label)
        self.acts.append("field")
        expect(field.locator("option:checked")).to_have_text(label)

    def sign(self, name: str) -> None:
        self.enter(self.page.get_by_label("Or the name, typed"), name)

    def go_on(self) -> None:
        self._act("Enter")

    def _act(self, key: str) -> None:
        self._key(key)
        self.acts.append(key)

    def _reach(self, what: Locator) -> None:
        """Tab by Tab, as somebody does who sees where the focus is; from the top by the skip link."""
        expect(what.first).to_be_visible()
        handle = what.first.element_handle()
        self.faults += self.page.evaluate(IS_LOST)
        if self.page.evaluate(IS_AT_TOP, handle):
            self._step("Tab")
            self._key("Enter")
            self.moves += 1
        for _ in range(MOST_TABS):
            if self.page.evaluate(HAS_FOCUS, handle):
                return
            self._step("Shift+Tab" if self.page.evaluate(LIES_BEFORE, handle) else "Tab")
        raise AssertionError(f"no way by Tab to {what}")

    def _reach_radio(self, radio: Locator) -> None:
        """Tab leads into the group, arrows lead on inside it."""
        handle = radio.element_handle()
        group = self.page.locator(f"input[type=radio][name={radio.get_attribute('name')}]")
        chosen = group.and_(self.page.locator(":checked"))
        self._reach(chosen if chosen.count() else group)
        while not self.page.evaluate(HAS_FOCUS, handle):
            self._act("ArrowDown")

    def _step(self, key: str) -> None:
        self._key(key)
        self.moves += 1
        self.faults += self.page.evaluate(LOOK, key)

    def check(self) -> None:
        assert (self.arrived("touch"), self.arrived("mouse")) == (0, 0)
        assert self.arrived("keys") == self.keys_pressed


# A page that is new begins at its top; one that was walked on has lost the focus with the piece it was on.
IS_LOST = (
    """() => window.lastStop && document.activeElement === document.body ? ["the focus was lost"] : []"""
)
IS_AT_TOP = """(aim) => document.activeElement === document.body && Boolean(aim.closest("main"))"""
HAS_FOCUS = "(aim) => document.activeElement === aim"
LIES_BEFORE = """(aim) => document.activeElement !== document.body
  && Boolean(aim.compareDocumentPosition(document.activeElement) & Node.DOCUMENT_POSITION_FOLLOWING)"""

# At each stop: the focus is somewhere, in sight, not behind anything, and looks other than without it. What
# it looks like without is seen one stop later, so nothing is disturbed by the looking.
LOOK = """(key) => {
  const it = document.activeElement, faults = [];
  const name = (of) => of.outerHTML.slice(0, 90).replace(/\\s+/g, " ");
  if (!it || it === document.body || it === document.documentElement) return [`${key} led out of the page`];
  const shown = it.matches("input:is([type=radio], [type=checkbox])") ? (it.closest("label") ?? it) : it;
  const look = (of) => [of, of.closest("label")].filter(Boolean).map((each) => {
    const style = getComputedStyle(each);
    return [style.outlineStyle === "none" ? "" : style.outlineWidth + style.outlineColor, style.boxShadow,
      style.borderColor, style.backgroundColor, style.textDecorationLine].join("|");
  }).join("||");
  const box = shown.getBoundingClientRect();
  if (box.width < 1 || box.height < 1) faults.push(`no size: ${name(it)}`);
  const across = [0.1, 0.5, 0.9].map((part) => box.left + box.width * part);
  const down = [0.15, 0.5, 0.85].map((part) => box.top + box.height * part);
  const isFree = across.some((x) => down.some((y) => {
    const top = document.elementFromPoint(x, y);
    return top && (shown.contains(top) || top.contains(it));
  }));
  if (!isFree) faults.push(`hidden or out of sight: ${name(it)}`);
  const before = window.lastStop;
  if (before && before.it.isConnected && before.it !== it) {
    if (look(before.it) === before.look) faults.push(`looks the same without the focus: ${name(before.it)}`);
    const follows = before.it.compareDocumentPosition(it) & Node.DOCUMENT_POSITION_FOLLOWING;
    const isForward = key === "Tab";
    if (before.key === key && Boolean(follows) !== isForward) faults.push(`out of order: ${name(it)}`);
    const same = before.it.parentElement === it.parentElement && before.key === key && isForward;
    const earlier = before.it.getBoundingClientRect();
    if (same && box.bottom <= earlier.top && !before.it.closest("[hidden]")) {
      faults.push(`stands above what came before it: ${name(it)}`);
    }
  }
  const ahead = [...document.querySelectorAll("[tabindex]")].find((each) => each.tabIndex > 0);
  if (ahead) faults.push(`a tabindex above 0: ${name(ahead)}`);
  window.lastStop = { it, key, look: look(it) };
  return faults;
}"""
