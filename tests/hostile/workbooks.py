"""Workbooks that somebody means badly, written byte by byte: what the packing and the XML of one may hide.

The kinds of attack are the known ones against packed XML: bombs of packing and of entities, references to
files and hosts, archives that say other than they hold (APPNOTE 4.3 and 4.4), and plain damage.
"""

import io
import struct
import zipfile
from collections.abc import Callable, Mapping
from random import Random

Parts = dict[str, bytes]
SHEET = "xl/worksheets/sheet1.xml"
STRINGS = "xl/sharedStrings.xml"
STYLES = "xl/styles.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
ROW = '<row r="{0}"><c r="A{0}" t="inlineStr"><is><t>{1}AA</t></is></c><c r="B{0}"><v>36149{1}</v></c></row>'
HEADS = (b"PK\x01\x02", b"PK\x03\x04")
ENTITIES = "".join(f'<!ENTITY e{n + 1} "{f"&e{n};" * 10}">' for n in range(9))


def sheet(rows: str) -> bytes:
    return (
        f'<?xml version="1.0"?><worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>'.encode()
    )


def good_parts(rows: int = 6) -> Parts:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    return {
        "[Content_Types].xml": (
            f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="xml" ContentType="application/xml"/>'
            '<Default Extension="rels"'
            ' ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
            f'<Override PartName="/{STRINGS}" ContentType="{kind}.sharedStrings+xml"/>'
            f'<Override PartName="/{STYLES}" ContentType="{kind}.styles+xml"/>'
            f'<Override PartName="/{SHEET}" ContentType="{kind}.worksheet+xml"/></Types>'
        ).encode(),
        "_rels/.rels": _relations(("officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": (
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
            '<sheet name="List" sheetId="1" r:id="rId1"/></sheets></workbook>'
        ).encode(),
        "xl/_rels/workbook.xml.rels": _relations(
            ("worksheet", "worksheets/sheet1.xml"),
            ("sharedStrings", "sharedStrings.xml"),
            ("styles", "styles.xml"),
        ),
        STRINGS: f'<sst xmlns="{MAIN}"><si><t>North</t></si></sst>'.encode(),
        STYLES: f'<styleSheet xmlns="{MAIN}"><cellXfs><xf numFmtId="14"/></cellXfs></styleSheet>'.encode(),
        SHEET: sheet("".join(ROW.format(n, n % 10) for n in range(1, rows + 1))),
    }


def _relations(*found: tuple[str, str]) -> bytes:
    rows = (
        f'<Relationship Id="rId{n}" Type="{OFFICE}/{kind}" Target="{target}"/>'
        for n, (kind, target) in enumerate(found, 1)
    )
    return f'<Relationships xmlns="{PACKAGE}/relationships">{"".join(rows)}</Relationships>'.encode()


def packed(parts: Mapping[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as book:
        for name, content in parts.items():
            book.writestr(name, content)
    return out.getvalue()


def with_rows(rows: str) -> bytes:
    return packed(good_parts() | {SHEET: sheet(rows)})


def cell(value: str, kind: str = "n", place: str = "A1") -> str:
    return f'<row r="1"><c r="{place}" t="{kind}"><v>{value}</v></c></row>'


def bomb_of_packing(dice: Random) -> bytes:
    part = dice.choice([SHEET, STRINGS, STYLES, "xl/media/image1.png", "docProps/app.xml"])
    return packed(good_parts() | {part: bytes(dice.randrange(2_000_000, 70_000_000))})


def bomb_of_tags(dice: Random) -> bytes:
    tag = dice.choice(["<row/>", "<c/>", '<row r="1"><c/></row>', "<x>", "<!---->", "<?a?>"])
    return with_rows(tag * dice.randrange(200_000, 1_200_000))


def bomb_of_strings(dice: Random) -> bytes:
    """One long text that many cells point at."""
    strings = f'<sst xmlns="{MAIN}"><si><t>{"x" * dice.randrange(150, 2_000_000)}</t></si></sst>'.encode()
    rows = '<row><c t="s"><v>0</v></c></row>' * dice.randrange(1_000, 25_000)
    return packed(good_parts() | {STRINGS: strings, SHEET: sheet(rows)})


def bomb_of_entities(dice: Random) -> bytes:
    """A billion laughs, or one large entity many times, in several spellings."""
    part = dice.choice([SHEET, STRINGS, STYLES, "xl/workbook.xml", "[Content_Types].xml", "_rels/.rels"])
    text = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "ha">{ENTITIES}]><x>&e9;</x>'
    code = dice.choice(["utf-8", "utf-16", "utf-8-sig", "utf-16-le", "utf-32"])
    return packed(good_parts() | {part: text.encode(code)})


def reference_outside(dice: Random) -> bytes:
    target = dice.choice(["file:///etc/hostname", "http://127.0.0.1:9/x", "ftp://127.0.0.1/x", "/dev/zero"])
    form = dice.choice(
        [
            '<!DOCTYPE x [<!ENTITY a SYSTEM "{}">]><x>&a;</x>',
            '<!DOCTYPE x SYSTEM "{}"><x/>',
            '<!DOCTYPE x [<!ENTITY % p SYSTEM "{}"> %p;]><x/>',
            '<!DOCTYPE x PUBLIC "-//x" "{}"><x/>',
            '<?xml-stylesheet href="{}"?><x/>',
            '<x xmlns:xi="http://www.w3.org/2001/XInclude"><xi:include href="{}" parse="text"/></x>',
        ]
    )
    part = dice.choice([SHEET, STRINGS, STYLES, "xl/workbook.xml"])
    return packed(good_parts() | {part: form.format(target).encode()})


def relation_outside(dice: Random) -> bytes:
    target = dice.choice(
        ["file:///etc/passwd", "../../../../etc/passwd", "/etc/passwd", "http://127.0.0.1:9/", ""]
    )
    return packed(good_parts() | {"xl/_rels/workbook.xml.rels": _relations(("worksheet", target))})


def formulas(dice: Random) -> bytes:
    text = dice.choice(
        [
            "1+1",
            'cmd|"/c calc"!A0',
            'HYPERLINK("http://127.0.0.1:9/")',
            'WEBSERVICE("http://127.0.0.1:9/")',
            "A1" * 4000,
        ]
    )
    rows = f'<row r="1"><c r="A1"><f>{text.replace(chr(34), "&quot;")}</f><v>7</v></c></row>'
    return with_rows(
        rows + dice.choice(["", '<row r="2"><c r="A2"><f t="shared" si="0" ref="A2:XFD1048576"/></c></row>'])
    )


def odd_values(dice: Random) -> bytes:
    value, kind = dice.choice(
        [
            ("9" * 5000, "n"),
            ("1e999", "n"),
            ("-1e308", "n"),
            ("NaN", "n"),
            ("x", "n"),
            ("", "s"),
            ("99", "s"),
            ("-1", "s"),
            ("2", "b"),
            ("#REF!", "e"),
            ("#" * 5000, "e"),
            ("x" * 5000, "str"),
            ("9999-99-99", "d"),
            ("1e300", "n"),
            ("0." + "1" * 4000, "n"),
            ("7", "zzz"),
            ("&#0;", "str"),
            ("&#xD800;", "str"),
            ("a&#x202e;b", "str"),
            ("_x0000_", "str"),
        ]
    )
    place = dice.choice(["A1", "XFD1", "ZZZZ1", "A1048577", "A99999999999", "1A", "", "A-1"])
    return with_rows(cell(value, kind, place))


def odd_dates(dice: Random) -> bytes:
    """The style says that the number is a day."""
    day = dice.choice(["-1", "0", "60", "2958466", "1e15", "1e308", "99999999999"])
    return with_rows(f'<row r="1"><c r="A1" s="{dice.choice(["0", "7", "-1", "x"])}"><v>{day}</v></c></row>')


def odd_rows(dice: Random) -> bytes:
    rows = dice.choice(
        [
            '<row r="1048576"><c r="A1048576"><v>1</v></c></row>',
            '<row r="99999999999"><c><v>1</v></c></row>',
            '<row r="-5"><c><v>1</v></c></row>',
            '<row r="x"><c><v>1</v></c></row>',
            '<row r="3"/><row r="1"><c><v>1</v></c></row>',
            f'<row r="1">{"<c><v>1</v></c>" * 20_000}</row>',
            "<row><c><v>1</v></c></row>" * 40_000,
            f"{'<x>' * 50_000}",
            "<row " + " ".join(f'a{n}="1"' for n in range(20_000)) + "/>",
            f'<row r="1"><c r="A1" t="inlineStr"><is>{"<r><t>ab</t></r>" * 30_000}</is></c></row>',
        ]
    )
    return with_rows(rows)


def odd_names(dice: Random) -> bytes:
    name = dice.choice(
        ["/etc/passwd", "../../x", "xl/../../x", "C:\\x", "a\x00b", "x" * 60_000, "con", "xl\\workbook.xml"]
    )
    return packed(good_parts() | {name: b"x"})


def many_parts(dice: Random) -> bytes:
    return packed(good_parts() | {f"xl/part{n}.xml": b"<x/>" for n in range(dice.randrange(190, 3_000))})


def nested(dice: Random) -> bytes:
    inner = packed(good_parts())
    for _ in range(dice.randrange(1, 5)):
        inner = packed({"inner.xlsx": inner})
    return packed(good_parts() | {"xl/embeddings/inner.xlsx": inner})


def lying_archive(dice: Random) -> bytes:
    """One field of the directory, or of a part's own head, says other than it is."""
    content = bytearray(packed(good_parts()))
    heads = [at for at in range(len(content) - 4) if bytes(content[at : at + 4]) in HEADS]
    at = dice.choice(heads)
    is_directory = content[at : at + 4] == b"PK\x01\x02"
    offset, width = dice.choice(
        [(8, 2), (10, 2), (16, 4), (20, 4), (24, 4), (28, 2), (30, 2), (42, 4)]
        if is_directory
        else [(6, 2), (8, 2), (14, 4), (18, 4), (22, 4), (26, 2), (28, 2)]
    )
    value = dice.choice([0, 1, 8, 99, 0xFFFF, 0xFFFF_FFFF, 0x7FFF_FFFF, dice.randrange(1 << 32)]) % (
        1 << 8 * width
    )
    content[at + offset : at + offset + width] = struct.pack("<Q", value)[:width]
    return bytes(content)


def twice_the_same(dice: Random) -> bytes:
    """Two directory entries over the same bytes, or two parts of one name."""
    content = packed(good_parts())
    start = content.index(b"PK\x01\x02")
    end = content.index(b"PK\x05\x06")
    entries = content[start:end] * dice.randrange(2, 9)
    count = entries.count(b"PK\x01\x02")
    tail = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, count, count, len(entries), start, 0)
    return content[:start] + entries + tail


def odd_packing(dice: Random) -> bytes:
    return packed(good_parts(), dice.choice([zipfile.ZIP_STORED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA]))


def inner_damage(dice: Random) -> bytes:
    """Sound packing around a part with bytes changed: the XML's own reader meets it."""
    parts = good_parts(dice.randrange(1, 30))
    name = dice.choice(list(parts))
    return packed(parts | {name: damaged(parts[name], dice)})


def inner_words(dice: Random) -> bytes:
    """Attributes and tags taken from elsewhere in the same part."""
    parts = good_parts()
    name = dice.choice(list(parts))
    words = parts[name].split(b'"')
    for _ in range(dice.randrange(1, 4)):
        words[dice.randrange(len(words))] = dice.choice([*words, b"", b"-1", b"9" * 40, b"\xff", b"&lt;"])
    return packed(parts | {name: b'"'.join(words)})


def missing_part(dice: Random) -> bytes:
    parts = good_parts()
    del parts[dice.choice(list(parts))]
    return packed(parts)


def outer_damage(dice: Random) -> bytes:
    return damaged(packed(good_parts()), dice)


def cut_short(dice: Random) -> bytes:
    content = packed(good_parts())
    return content[: dice.randrange(2, len(content))]


def something_around(dice: Random) -> bytes:
    junk = dice.randbytes(dice.randrange(1, 5_000))
    return packed(good_parts()) + junk if dice.random() < 0.5 else b"PK" + junk + packed(good_parts())


def damaged(content: bytes, dice: Random) -> bytes:
    """Bytes changed, taken out, put in or doubled, at random places."""
    changed = bytearray(content)
    for _ in range(dice.randrange(1, 12)):
        at = dice.randrange(len(changed) or 1)
        act = dice.randrange(4)
        if act == 0 and changed:
            changed[at] = dice.randrange(256)
        elif act == 1:
            del changed[at : at + dice.randrange(1, 40)]
        elif act == 2:
            changed[at:at] = dice.choice(
                [dice.randbytes(8), b"\0" * 8, b"<" * 8, b"9" * 30, b'"', b"]]>", b"&#x10FFFF;"]
            )
        else:
            changed[at:at] = changed[at : at + dice.randrange(1, 200)]
    return bytes(changed)


MAKERS: tuple[Callable[[Random], bytes], ...] = (
    bomb_of_packing,
    bomb_of_tags,
    bomb_of_strings,
    bomb_of_entities,
    reference_outside,
    relation_outside,
    formulas,
    odd_values,
    odd_values,
    odd_dates,
    odd_rows,
    odd_names,
    many_parts,
    nested,
    lying_archive,
    lying_archive,
    twice_the_same,
    odd_packing,
    inner_damage,
    inner_damage,
    inner_words,
    inner_words,
    missing_part,
    outer_damage,
    cut_short,
    something_around,
)
