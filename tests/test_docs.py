"""The documents say what is so: links lead somewhere, commands are two, tables of defaults equal the code."""

import ast
import itertools
import re
from pathlib import Path

import pytest

from reconcile import costs, decide
from reconcile.cli import cli

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
    body = ast.parse((ROOT / "reconcile/costs.py").read_text(encoding="utf-8")).body
    rows = []
    for item, following in itertools.pairwise(body):
        if isinstance(item, ast.AnnAssign):
            value = getattr(costs, item.target.id)
            told = ", ".join(f"{v:g}" for v in value) if isinstance(value, tuple) else f"{value:.3g}"
            text = re.sub(r":\w+:`(?:[\w.]+\.)?(\w+)`", r"`\1`", " ".join(following.value.value.split())).replace(
                "``", "`"
            )
            rows.append(f"| `{item.target.id}` | {told} | {text} |")
    return "\n".join(["| name | value | what it is |", "|---|---|---|", *rows])


GENERATED = {
    ("method.md", "defaults"): table_of_defaults,
    ("method.md", "rules"): table_of_rules,
    ("costs.md", "costs"): table_of_costs,
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


if __name__ == "__main__":
    for (page, name), table in GENERATED.items():
        path = ROOT / "docs" / page
        made = place(name).sub(lambda _, table=table: table(), path.read_text(encoding="utf-8"))
        path.write_text(made, encoding="utf-8")
