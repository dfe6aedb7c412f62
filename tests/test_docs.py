"""What the documents say is what the code does."""

import ast
import re
import tomllib
from datetime import date
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class
from django.test import Client

from horses import demo as horses_demo
from practice import demo as people
from practice.env import PREFIX, VARIABLES

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
HOUSE = ("practice", "horses", "scheduling", "billing")
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/*.md")]
COMMANDS = sorted(name for name, app in get_commands().items() if app in HOUSE)
# Bootstrapping commands: they are made before Django is.
EARLY = {"up", "test"}


def test_the_settings_table_is_the_table_of_the_program():
    shown = re.findall(r"^\| `(CLENCHLINE_\w+)` \| (.*?) \| (.*?) \|$", README, re.M)
    assert [name for name, _, _ in shown] == [PREFIX + v.name for v in VARIABLES]
    for (name, default, help_text), variable in zip(shown, VARIABLES, strict=True):
        assert default.strip("`") == variable.default, name
        assert help_text.startswith(variable.help), name
        assert ("_FILE" in help_text) == (variable.kind == "secret"), name


def test_the_example_of_an_environment_has_every_variable_in_order():
    text = (ROOT / ".env.example").read_text(encoding="utf-8")
    shown = re.findall(r"^# (.*)\n#(CLENCHLINE_\w+)=(.*)$", text, re.M)
    assert shown == [(v.help, PREFIX + v.name, v.default) for v in VARIABLES]


def test_compose_passes_on_no_variable_that_is_unknown():
    text = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
    named = set(re.findall(r"\b(CLENCHLINE_\w+)", text))
    assert named <= {PREFIX + v.name for v in VARIABLES}


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_is_in_the_readme_and_has_help(name):
    assert re.search(rf"^\| `{name}\b", README, re.M)
    command = load_command_class(get_commands()[name], name)
    assert len(command.help) > 20


def test_documents_name_no_command_that_is_not_there():
    known = {*COMMANDS, *EARLY, "migrate", "shell", "makemigrations"}
    for path in DOCUMENTS:
        text = path.read_text(encoding="utf-8")
        named = set(re.findall(r"manage\.py ([a-z_]+)", text))
        assert named <= known, path.name


def test_the_reckonings_that_the_readme_names_can_be_run():
    from importlib import import_module

    row = re.search(r"^\| `reckon .*$", README, re.M)
    assert row
    named = set(re.findall(r"`([a-z]+)`", row[0]))
    known = {
        what
        for app in HOUSE
        if (ROOT / app / "reckon.py").exists()
        for what in import_module(f"{app}.reckon").RECKONINGS
    }
    assert named == known


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_links_lead_somewhere(path):
    text = path.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (path.parent / target).exists(), target


def test_pictures_are_real_and_of_modest_size():
    pictures = re.findall(r"\]\((docs/images/[^)]+)\)", README)
    assert len(pictures) >= 2
    for picture in pictures:
        file = (ROOT / picture).read_bytes()
        assert file.startswith((b"\x89PNG", b"\xff\xd8"))
        assert 5_000 < len(file) < 400_000, picture


def _modules() -> list[str]:
    found = []
    for app in HOUSE:
        for path in sorted((ROOT / app).rglob("*.py")):
            inside = path.relative_to(ROOT)
            if "migrations" in inside.parts or not path.read_text("utf-8").strip():
                continue
            found.append(str(inside))
    return found


def test_each_module_has_its_line_in_the_floor_plan():
    missing = []
    for module in _modules():
        tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
        says = (ast.get_docstring(tree) or "").split("\n")[0]
        line = f"- `{module}`: "
        if line not in GUIDE:
            missing.append(line + says)
    assert missing == [], "add to DEVELOPERS.md, 'Floor plan':\n" + "\n".join(missing)


def test_the_floor_plan_names_no_module_that_is_gone():
    named = re.findall(r"^- `([\w/]+\.py)`: ", GUIDE, re.M)
    assert [path for path in named if not (ROOT / path).exists()] == []
    assert len(named) == len(set(named))


def test_each_path_that_the_guide_names_is_there():
    named = re.findall(r"`([\w./-]+/[\w.-]+\.(?:py|html|css|js|toml|md|svg))`", GUIDE)
    missing = [
        path
        for path in named
        if not (ROOT / path).exists() and not list(ROOT.glob(f"*/{path}"))
    ]
    assert missing == []


def test_each_dependency_has_its_sentence():
    section = GUIDE.split("## Dependencies", 1)[1].split("\n## ", 1)[0]
    groups = PROJECT["dependency-groups"]
    wanted = PROJECT["project"]["dependencies"] + groups["test"] + groups["bench"]
    names = {re.split(r"[\[<>=~ ]", one)[0] for one in wanted}
    lines = dict(re.findall(r"^- \*\*([\w-]+)\*\*: (.+)$", section, re.M))
    assert names == set(lines)
    assert all(len(sentence) > 15 for sentence in lines.values())


def test_the_changelog_knows_this_version():
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    first = re.search(r"^## ([\d.]+)", text, re.M)
    assert first
    assert first[1] == PROJECT["project"]["version"]


# Words that another word of the house stands for, with that word.
NOT_OURS = {
    "customer": "client, owner or payer",
    "customers": "clients",
    "appointment": "booking or visit",
    "appointments": "bookings or visits",
    "yard": "barn",
    "yards": "barns",
    "dunning": "nudge",
}


def test_pages_use_the_words_of_the_house():
    found = []
    for path in (ROOT / "templates").rglob("*.html"):
        text = re.sub(r"\{[%#].*?[%#]\}|<[^>]*>", " ", path.read_text("utf-8"))
        found += [
            f"{path.name}: {word}, say {NOT_OURS[word.lower()]}"
            for word in re.findall(r"[A-Za-z]+", text)
            if word.lower() in NOT_OURS
        ]
    assert found == []


def test_what_the_documents_call_a_button_is_on_a_page():
    """Words in *italics* are those of the interface (or one of its states)."""
    places = [*(ROOT / "templates").rglob("*.html"), *ROOT.glob("*/templatetags/*.py")]
    places += [*ROOT.glob("*/models/*.py"), *ROOT.glob("*/forms/*.py")]
    shown = " ".join(path.read_text(encoding="utf-8") for path in places)
    for path in [ROOT / "README.md", *ROOT.glob("docs/*.md")]:
        text = path.read_text(encoding="utf-8").replace("**", "")
        for words in re.findall(r"(?<![\w*])\*([^*\n]+)\*(?![\w*])", text):
            assert words in shown, f"{path.name}: {words}"


EXAMPLE = re.compile(
    r"^(?P<verb>GET|POST) (?P<path>\S+)\n(?P<key>Idempotency-Key: \S+\n)?"
    r"(?P<body>\{.*\}\n)?→ (?P<status>\d+) (?P<names>.+)$",
    re.M,
)


def test_the_examples_of_the_api_work_as_they_stand(db):
    people.load(today=date(2026, 11, 25))
    horses_demo.load(today=date(2026, 11, 25))
    text = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    examples = list(EXAMPLE.finditer(text))
    assert len(examples) == len(re.findall(r"^→", text, re.M)) > 5
    browser, headers = Client(), {}
    for one in examples:
        key = {"Idempotency-Key": one["key"].split()[1]} if one["key"] else {}
        answer = browser.generic(
            one["verb"],
            one["path"],
            one["body"] or "",
            content_type="application/json",
            headers={**headers, **key},
        )
        told = answer.json()
        assert answer.status_code == int(one["status"]), (one[0], told)
        assert set(one["names"].split(", ")) <= set(told), (one[0], told)
        if "token" in told:
            headers["Authorization"] = f"Token {told['token']}"
