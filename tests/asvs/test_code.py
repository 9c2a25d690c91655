"""What the code must not hold, held by reading all of it. The numbers are those of the ASVS 5.0.0."""

import ast
import re

import pytest

from tests.asvs.reading import CALLS, IMPORTS, PYTHON, ROOT, SCRIPTS, TEMPLATES, importers, name_of

# Makes invented estates, and starts the server for them; never part of a real one.
DEMO = ROOT / "keyctl" / "demo"


def test_the_whole_product_is_read() -> None:
    assert len(PYTHON) > 500
    assert len(SCRIPTS) > 20
    assert len(TEMPLATES) > 200


def test_no_words_are_run_as_a_program() -> None:
    """1.3.2, 1.2.5: no words become code, and no shell sees any."""
    wrong = {
        name
        for name, function, call in CALLS
        if function in {"eval", "exec", "compile", "os.system", "os.popen", "__import__"}
        or any(keyword.arg == "shell" for keyword in call.keywords)
    }
    assert wrong == set()
    scripts = [name_of(file) for file in SCRIPTS if re.search(r"\beval\(|new Function\b", file.read_text())]
    assert scripts == []


def test_programs_are_started_in_three_places_only() -> None:
    """1.2.5: our own Python each time, as a list of words."""
    assert importers("subprocess") == {
        "keyctl/demo/serve.py",
        "keyctl/lib/bootstrap.py",
        "keyctl/lib/confined/__init__.py",
    }


def test_nothing_is_unpacked_into_objects() -> None:
    """1.5.2: what comes in is read as JSON, a table or a photo, never as objects of Python."""
    assert importers("pickle", "marshal", "shelve", "dill", "yaml", "jsonpickle") == set()


def test_no_parser_of_xml_but_the_one_that_refuses_entities() -> None:
    """1.5.1: the tables' own reader asks defusedxml, or sets the parser so itself."""
    wrong = importers("xml.etree", "xml.dom", "xml.sax", "lxml", "xmltodict")
    assert wrong <= {"keyctl/lib/confined/reading.py", "keyctl/lib/tables/workbook.py"}, wrong


# Words of the database that no placeholder can hold (names of tables and triggers), and who puts them in.
GLUED = {
    "keyctl/audit/chain.py",  # two constants, one after the other
    "keyctl/audit/guards.py",
    "keyctl/audit/services.py",  # places for values, as many as there are
    "keyctl/feed/relisting.py",
    "keyctl/feed/triggers.py",
    "keyctl/operations/backup/loading.py",
    "keyctl/operations/backup/dumping.py",
    "keyctl/operations/backup/snapshot.py",
    "keyctl/operations/backup/tables.py",
    "keyctl/operations/backup/trying.py",
    "keyctl/operations/estate/tables.py",
    "keyctl/search/watching.py",
}


def test_no_question_to_the_database_is_glued_together() -> None:
    """1.2.4: words that come from anybody go by placeholders; where names of our own tables are set in, they
    are quoted there."""
    glued = {
        name
        for name, function, call in CALLS
        if function.endswith((".execute", ".executemany", ".executescript", ".raw", "RawSQL", ".extra"))
        and call.args
        and not name.startswith("keyctl/demo/")
        and isinstance(call.args[0], ast.JoinedStr | ast.BinOp)
    }
    assert glued <= GLUED, glued - GLUED
    assert importers("django.db.models.expressions.RawSQL") == set()


def test_templates_escape_what_they_show() -> None:
    """1.2.1, 1.1.2: nothing is marked as safe but mail in plain words, which has no marks to escape."""
    marked = {
        name_of(file)
        for file in TEMPLATES
        if re.search(r"\|\s*safe\b|autoescape\s+off|\|\s*safeseq", file.read_text(encoding="utf-8"))
    }
    assert {name for name in marked if not name.endswith(".txt")} == set()
    assert importers("django.utils.safestring.mark_safe") <= {"keyctl/prints/codes.py"}


def test_templates_are_files_of_ours() -> None:
    """1.3.7: nothing that anybody typed becomes a template."""
    # A building model read from its bytes is no template.
    models = "keyctl/imports/ifc/reading.py"
    wrong = {name for name, function, _ in CALLS if function.endswith("from_string") and name != models}
    assert wrong == set()
    assert importers("django.template.Template", "jinja2") == set()


ABSENT = {
    "GraphQL (4.3.1, 4.3.2)": ("graphene", "strawberry", "ariadne", "graphql"),
    "WebSocket (4.4.1 to 4.4.4)": ("channels", "websockets", "daphne", "socketio"),
    "LDAP (1.2.6)": ("ldap", "ldap3", "django_auth_ldap"),
    "XPath (1.2.7)": ("lxml", "elementpath"),
    "LaTeX (1.2.8)": ("pylatex", "latex"),
    "memcached (1.3.9)": ("memcache", "pymemcache", "pylibmc"),
    "SAML (6.8.3)": ("saml2", "onelogin"),
    "an OAuth server (10.4, 10.6, 10.7)": ("oauth2_provider", "authlib", "allauth.idp"),
    "an editor of HTML or Markdown (1.3.1, 1.3.5)": ("markdown", "bleach", "nh3", "tinymce", "ckeditor"),
    "messages by telephone (6.6.1)": ("twilio", "vonage", "phonenumbers"),
    "telling others who looks (14.2.3)": ("sentry_sdk", "newrelic", "ddtrace"),
}


@pytest.mark.parametrize("what", ABSENT)
def test_what_is_said_not_to_be_there_is_not(what: str) -> None:
    """The rows that do not apply: no line of the product imports it, and no lock names it."""
    assert importers(*ABSENT[what]) == set()
    locked = re.findall(r"^([a-z0-9_.-]+)==", (ROOT / "requirements.txt").read_text(), re.MULTILINE)
    wanted = {name.replace("_", "-") for name in ABSENT[what]}
    # A reader of SVG and pictures on paper brings its own parser along; the product does not call it.
    assert wanted & set(locked) <= {"lxml"}


def test_secrets_are_drawn_by_the_system() -> None:
    """11.5.1: whatever nobody may guess comes from the operating system; `Random` draws invented estates,
    samples that are shown as samples, and orders of search."""
    for name, function, call in CALLS:
        # Without a seed of its own the generator of statistics would be seeded by the clock or alike.
        if function in {"Random", "random.Random"} and not name.startswith("keyctl/demo/"):
            assert call.args, name
    assert importers("random.choice", "random.randint", "random.getrandbits", "random.shuffle") == set()
    assert importers("secrets") >= {"keyctl/api/credentials.py", "keyctl/lib/env.py"}


def test_only_approved_ciphers_hashes_and_signatures_are_used() -> None:
    """11.3.1, 11.3.2, 11.4.1, 11.6.1: AES-GCM, SHA-2, HMAC, HKDF, Ed25519 and X25519 alone."""
    allowed = {
        "cryptography.exceptions.",
        "cryptography.hazmat.primitives.ciphers.aead.AESGCM",
        "cryptography.hazmat.primitives.asymmetric.ed25519.",
        "cryptography.hazmat.primitives.asymmetric.x25519.",
        "cryptography.hazmat.primitives.kdf.hkdf.",
        "cryptography.hazmat.primitives.hashes",
        "cryptography.hazmat.primitives.serialization.",
        "cryptography.hazmat.primitives.hpke",
    }
    modules = {each.rstrip(".") for each in allowed} | {
        "cryptography.hazmat.primitives",
        "cryptography.hazmat.primitives.ciphers.aead",
    }
    for name, found in IMPORTS.items():
        used = {each for each in found if each.startswith("cryptography")}
        stray = {each for each in used - modules if not each.startswith(tuple(allowed))}
        assert stray == set(), name
    text = "\n".join(file.read_text() for file in PYTHON)
    assert not re.search(r"hashlib\.(md5|sha1|new)\b|hashes\.(MD5|SHA1)\b|\b(AESCCM|ECB|CBC|RSA)\(", text)


def test_no_secret_stands_in_the_code() -> None:
    """13.3.1: no constant looks like a key; the folders of secrets and data are no part of the repository."""
    looks = re.compile(
        r"-----BEGIN|AKIA[0-9A-Z]{16}|(?:password|secret|token|key)\s*=\s*\"[A-Za-z0-9+/=_-]{24,}\"", re.I
    )
    assert [name_of(file) for file in [*PYTHON, *SCRIPTS] if looks.search(file.read_text())] == []
    ignored = (ROOT / ".gitignore").read_text().split()
    assert {name.strip("/") for name in ignored} >= {".secrets", ".data"}


def test_questions_to_other_hosts_leave_by_one_door() -> None:
    """1.3.6, 13.2.4, 15.3.2: mail, the sign-in of a provider, and addresses that are judged first."""
    outward = r"(httpx|urllib|socket|smtplib|http|requests\.(get|post|put|request|Session))\b|urlopen"
    asking = {
        (name, function)
        for name, function, _ in CALLS
        if not name.startswith("keyctl/demo/")
        and re.match(outward, function)
        and function != "socket.gethostname"
    }
    assert {name for name, _ in asking} <= {"keyctl/lib/outward.py"}, asking
    assert importers("http.client") <= {"keyctl/lib/outward.py"}


def test_forms_and_bodies_name_their_fields() -> None:
    """15.3.3, 15.3.1: nothing that was sent lands in a record but by the name that somebody wrote down."""
    wrong = {
        name for name in PYTHON if re.search(r"__all__\"|\*\*request\.(POST|GET|data)", name.read_text())
    }
    assert wrong == set()
    assert importers("django.forms.ModelForm", "rest_framework.serializers.ModelSerializer") == set()


def test_migrations_make_no_account() -> None:
    """6.3.2: a new installation knows nobody."""
    made = re.compile(r"create_user|make_password|accounts\.User|\"accounts\", \"User\"")
    migrations = [file for file in PYTHON if "migrations" in file.parts]
    assert [
        name_of(file)
        for file in migrations
        if "get_model" in file.read_text() and made.search(file.read_text())
    ] == []


def is_of_ours(node: ast.expr) -> bool:
    """A constant, a name in capitals, or marks set between such."""
    if isinstance(node, ast.Constant):
        return True
    if isinstance(node, ast.JoinedStr):
        return all(is_of_ours(each) for each in node.values)
    if isinstance(node, ast.FormattedValue):
        return is_of_ours(node.value)
    if isinstance(node, ast.BinOp):
        return is_of_ours(node.left) and is_of_ours(node.right)
    if isinstance(node, ast.Call):
        return ast.unparse(node.func) in {"re.escape", "map", "'|'.join", "str"}
    return isinstance(node, ast.Name | ast.Attribute | ast.Subscript)


# A group that is nothing but a repetition, and is repeated itself.
TWICE = re.compile(r"\((?:\?:)?(?:\[[^\]]*\]|\\[wdsWDS]|\.)[+*]\)[+*{]")


def test_regular_expressions_are_constants() -> None:
    """1.2.9, 1.3.12: none is made of what somebody sent, and none repeats a repetition."""
    for name, function, call in CALLS:
        if re.fullmatch(r"re\.(compile|match|fullmatch|search|sub|split|findall|finditer)", function):
            assert is_of_ours(call.args[0]), f"{name}: {ast.unparse(call)}"
            if isinstance(call.args[0], ast.Constant):
                text = call.args[0].value
                words = text.decode("latin-1") if isinstance(text, bytes) else str(text)
                assert not TWICE.search(words), f"{name}: {words}"


def test_format_strings_are_constants() -> None:
    """1.3.10: `format` fills words of ours or their translation, never words that were sent."""
    wrong = [
        f"{name}: {ast.unparse(call)}"
        for name, function, call in CALLS
        if function.endswith(".format")
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Call)
        and not is_said_by_us(call.func.value)
    ]
    assert wrong == []


SAYING = {"_", "gettext", "gettext_lazy", "ngettext", "npgettext", "pgettext", "pgettext_lazy"}


def is_said_by_us(call: ast.Call) -> bool:
    """A text of the catalogue, or the constant that is one; `str` makes one of a text that waited for its
    reader."""
    called = ast.unparse(call.func)
    if called == "str":
        return len(call.args) == 1 and isinstance(call.args[0], ast.Name | ast.Attribute | ast.Subscript)
    text = call.args[0]
    is_ours = isinstance(text, ast.Constant) or (isinstance(text, ast.Name) and text.id.isupper())
    return called in SAYING and is_ours


def test_names_of_downloads_are_ours() -> None:
    """5.4.1, 5.4.2: what stands in `Content-Disposition` does not come from a request."""
    found = [
        (name, line)
        for name, text in ((name_of(file), file.read_text()) for file in PYTHON)
        for line in text.splitlines()
        if "filename=" in line and ("Disposition" in line or "attachment" in line)
    ]
    assert found
    assert [each for each in found if re.search(r"request|\.POST|\.GET|\.FILES", each[1])] == []


def test_there_are_no_hints_and_no_questions() -> None:
    """6.4.2: no field and no word of a page asks for what others could know."""
    asks = re.compile(r"password hint|secret question|security question|mother's", re.IGNORECASE)
    files = [*TEMPLATES, *PYTHON]
    assert [name_of(file) for file in files if asks.search(file.read_text(encoding="utf-8"))] == []


def test_the_demo_is_no_part_of_what_answers() -> None:
    """15.2.3: no address leads to it, and nothing imports it."""
    assert importers("keyctl.demo") <= {name for name in IMPORTS if name.startswith("keyctl/demo/")}
    assert not (DEMO / "urls.py").exists()
    locked = (ROOT / "requirements.txt").read_text()
    assert not re.search(r"^(pytest|hypothesis|schemathesis|playwright|coverage)==", locked, re.MULTILINE)


def test_logs_go_to_standard_error_alone() -> None:
    """16.2.3: to no file, no socket and no mail."""
    handlers = re.findall(r'"class": "([\w.]+)"', (ROOT / "keyctl" / "lib" / "logs.py").read_text())
    assert set(handlers) == {"logging.StreamHandler"}
    assert importers("logging.handlers") == set()
