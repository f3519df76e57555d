"""The documents say what is so: links lead somewhere, commands are two, tables of defaults equal the code."""

import ast
import inspect
import itertools
import re
import shlex
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import click
import obtained
import pytest
from click.testing import CliRunner

import reconcile
from reconcile import figures
from reconcile.cli import cli
from reconcile.costs import COSTS
from reconcile.decide import rules as decide
from reconcile.kinds import KINDS
from reconcile.texts.cause_words import NAMES as CAUSE_NAMES
from reconcile.texts.glossary_words import GLOSSARY
from reconcile.texts.labels import DECISIONS as DECISION_NAMES
from reconcile.texts.labels import MEANS

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), target


def test_commands_named_are_commands():
    known = set(cli.commands)
    for page in PAGES:
        for command in re.findall(r"(?:`|bin/)reconcile ([a-z]+)", page.read_text(encoding="utf-8")):
            assert command in known, f"{page.name}: reconcile {command}"


def test_the_readme_has_two_commands_and_the_ci_runs_the_second():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = [block.strip() for block in re.findall(r"```sh\n(.*?)```", readme, flags=re.DOTALL)]
    assert len(commands) == 2
    assert all("\n" not in command and command.startswith("python3 -m venv .venv && ") for command in commands)
    assert "reconcile check sample_bills/" in commands[0]
    assert commands[1].endswith("pytest")
    assert len([line for line in readme.splitlines() if ".[test]" in line]) == 1


def test_every_outside_check_is_on_the_page_of_checks():
    page = (ROOT / "docs" / "checks.md").read_text(encoding="utf-8")
    for module in sorted((ROOT / "tests" / "published").glob("test_*.py")):
        assert f"tests/published/{module.name}" in page


def defaults(path):
    """Name, value and docstring of every constant of a module."""
    body = ast.parse(path.read_text(encoding="utf-8")).body
    for item, following in zip(body, [*body[1:], None], strict=True):
        if isinstance(item, ast.Assign) and isinstance(item.value, ast.Constant | ast.UnaryOp):
            text = ""
            if isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant):
                text = " ".join(str(following.value.value).split())
            yield item.targets[0].id, ast.unparse(item.value), text


def table_of_defaults():
    rows = [f"| `{name}` | {value} | {text} |" for name, value, text in defaults(ROOT / "reconcile/weigh/constants.py")]
    return "\n".join(["| name | value | what, and why |", "|---|---|---|", *rows])


def table_of_rules():
    rows = [f"| {i} | `{rule.name}` | `{rule.decision}` | {rule.why} |" for i, rule in enumerate(decide.RULES, 1)]
    return "\n".join(["| | rule | decision | holds where, and why |", "|---|---|---|---|", *rows])


def table_of_costs():
    module = ast.parse((ROOT / "reconcile/costs.py").read_text(encoding="utf-8"))
    body = next(item for item in module.body if isinstance(item, ast.ClassDef)).body
    told = []
    for item, following in itertools.pairwise(body):
        if isinstance(item, ast.AnnAssign):
            told.append((item.target.id, following.value.value))
        elif isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
            told.append((item.name, ast.get_docstring(item)))
    told.append((body[-1].name, ast.get_docstring(body[-1])))
    rows = []
    for name, text in told:
        value = getattr(COSTS, name)
        value = ", ".join(f"{v:g}" for v in value) if isinstance(value, tuple) else f"{value:.3g}"
        text = re.sub(r":\w+:`(?:[\w.]+\.)?(\w+)`", r"`\1`", " ".join(text.split())).replace("``", "`")
        rows.append(f"| `{name}` | {value} | {text} |")
    return "\n".join(["| name | value | what it is |", "|---|---|---|", *rows])


def table_of_causes():
    rows = []
    for code, chance in reconcile.priors().items():
        kinds = [kind for kind in KINDS.values() if kind.code == code]
        why = "; ".join(f"{kind.chance + kind.large_chance:.3g}: {kind.reason}" for kind in kinds)
        rows.append(f"| `{code}` | {CAUSE_NAMES[code]} | {kinds[0].unit} | {chance:.3g} | {why} |")
    return "\n".join(
        ["| code | what it is | `unit` of its size | chance | of which, and why |", "|---|---|---|---|---|", *rows]
    )


def option_row(option, context):
    value = [] if option.is_flag else [option.make_metavar(context).replace("[", "").replace("]", "")]
    return f"| `{' '.join([*option.opts, *value])}` | {' '.join((option.help or '').split())} |"


def help_of_commands():
    """What every command does, with its options."""
    told = []
    for name, command in sorted(cli.commands.items()):
        given = [
            param.make_metavar(click.Context(command))
            for param in command.params
            if param.param_type_name == "argument"
        ]
        does = "\n\n".join(" ".join(part.split()) for part in inspect.cleandoc(command.help).split("\n\n"))
        told.append(f"## {name}\n\n`reconcile {' '.join([name, *given])}`\n\n{does}")
        options = [param for param in command.params if param.param_type_name == "option"]
        if options:
            rows = [option_row(option, click.Context(command)) for option in options]
            told.append("\n".join(["| option | what it does |", "|---|---|", *rows]))
    return "\n\n".join(told)


def table_of_words():
    rows = [f"| {w.word} | {w.whose} | {w.meaning} | {w.on_the_page} |" for w in GLOSSARY]
    return "\n".join(["| word | whose | meaning | on the page |", "|---|---|---|---|", *rows])


def table_of_decisions():
    """What each title says, and whom to call: every title has a row, and no other."""
    assert set(MEANS) == set(DECISION_NAMES)
    rows = [f"| {DECISION_NAMES[name]} | {means} | {call} |" for name, (means, call) in MEANS.items()]
    return "\n".join(["| the page says | it means | call? |", "|---|---|---|", *rows])


GENERATED = {
    ("householder.md", "decisions"): table_of_decisions,
    ("glossary.md", "glossary"): table_of_words,
    ("method.md", "defaults"): table_of_defaults,
    ("method.md", "rules"): table_of_rules,
    ("costs.md", "costs"): table_of_costs,
    ("result.md", "causes"): table_of_causes,
    ("commands.md", "commands"): help_of_commands,
    ("obtained.md", "obtained"): obtained.table,
}
"""Tables of the documents that are made of the code, by page and name."""


def place(name):
    return re.compile(
        rf"(?<=<!-- the table of {name}, by `python tests/test_docs.py` -->\n\n).*?(?=\n\n<!-- end -->)", re.DOTALL
    )


@pytest.mark.parametrize(("page", "name"), GENERATED)
def test_tables_made_of_the_code_are_as_the_code(page, name):
    text = (ROOT / "docs" / page).read_text(encoding="utf-8")
    assert place(name).findall(text) == [GENERATED[page, name]()], "run: python tests/test_docs.py"


@pytest.mark.parametrize("name", ["README.md", "docs/analyst.md"])
def test_the_first_python_shown_runs(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    (code, *_) = re.findall(r"```python\n(.*?)```", (ROOT / name).read_text(encoding="utf-8"), flags=re.DOTALL)
    shown = {}
    exec(code, shown)
    assert shown["answer"].verdict.headline


def test_the_example_of_many_houses_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    (_, code, *_) = re.findall(r"```python\n(.*?)```", (ROOT / "docs/analyst.md").read_text("utf-8"), flags=re.DOTALL)
    exec(code, {"__name__": "__main__"})
    assert "fast_meter" in capsys.readouterr().out


@pytest.mark.parametrize("row", obtained.TABLE, ids=lambda row: row.what)
def test_what_is_expected_is_obtained(row):
    assert row.shown == row.expected
    assert (ROOT / "tests" / "published" / row.test).exists()


SHELL = [
    (page.name, line)
    for page in PAGES
    if page.parent.name == "docs"
    for block in re.findall(r"```sh\n(.*?)```", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for line in block.splitlines()
    if "reconcile " in line
]


@pytest.mark.parametrize(("page", "line"), SHELL)
def test_every_command_shown_runs(page, line, tmp_path, monkeypatch):
    shutil.copytree(ROOT / "sample_bills", tmp_path / "sample_bills")
    shutil.copytree(ROOT / "sample_bills" / "fast_meter_checked", tmp_path / "HOUSE")
    monkeypatch.chdir(tmp_path)
    words = shlex.split(line.partition("reconcile ")[2], comments=True)
    if words[0] != "begin" and "my_house" in line:
        CliRunner().invoke(cli, ["begin", "my_house"], catch_exceptions=False)
        shutil.copy("sample_bills/all_well.xlsx", "my_house/house.xlsx")
    ran = CliRunner().invoke(cli, words, catch_exceptions=False)
    assert ran.exit_code == 0, ran.output


# The site ------------------------------------------------------------------------------------------------------------


class Targets(HTMLParser):
    """Addresses that a page points to, and the places in it that can be pointed to."""

    def __init__(self, page):
        super().__init__()
        self.to, self.places = [], set()
        self.feed(page.read_text(encoding="utf-8"))

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        self.places.add(told.get("id"))
        self.to += [told[key] for key in ("href", "src") if told.get(key)]


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    out = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-d", str(out / "trees")]
    made = subprocess.run(
        [*command, str(ROOT / "docs"), str(out / "html")], capture_output=True, text=True, cwd=ROOT, timeout=300
    )
    assert made.returncode == 0, made.stderr
    return out / "html"


@pytest.mark.slow
def test_the_site_is_made_without_a_warning_and_its_links_lead_somewhere(site):
    pages = {page.resolve(): Targets(page) for page in site.glob("*.html")}
    assert {page.stem for page in pages} >= {page.stem for page in PAGES if page.parent.name == "docs"}
    lost = []
    for page, found in pages.items():
        for target in found.to:
            address, _, place = target.partition("#")
            address = address.partition("?")[0]
            if re.match(r"[a-z]+:", target) or page.stem in ("search", "genindex", "py-modindex"):
                continue
            there = (page.parent / address).resolve() if address else page
            if not there.exists() or (place and there in pages and place not in pages[there].places):
                lost.append(f"{page.name}: {target}")
    assert lost == []


def test_every_public_name_is_in_the_reference():
    page = (ROOT / "docs" / "api.md").read_text(encoding="utf-8")
    assert [name for name in reconcile.__all__ if not re.search(rf"\breconcile\.{name}\n", page)] == []


def test_every_page_is_in_the_contents():
    contents = (ROOT / "docs" / "index.md").read_text(encoding="utf-8")
    listed = re.findall(r"^[A-Z].* <([a-z-]+)>$", contents, flags=re.MULTILINE)
    assert sorted(listed) == sorted(page.stem for page in (ROOT / "docs").glob("*.md") if page.stem != "index")


def test_every_figure_of_the_library_is_named_in_the_guide():
    guide = (ROOT / "docs" / "analyst.md").read_text(encoding="utf-8")
    assert not [name for name in figures.__all__ if f"`{name}`" not in guide]


if __name__ == "__main__":
    for (page, name), table in GENERATED.items():
        path = ROOT / "docs" / page
        made = place(name).sub(lambda _, table=table: table(), path.read_text(encoding="utf-8"))
        path.write_text(made, encoding="utf-8")
