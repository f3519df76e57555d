"""The house of the program: imports go down only, the heavy ones wait, and no module grows out of hand."""

import ast
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import reconcile

ROOT = Path(reconcile.__file__).parent

FLOOR = {
    "__main__": 15,
    "cli": 14,
    "console": 11.5,
    "checking": 13,
    "page": 13,
    "all_houses": 13,
    "report": 12,
    "figures": 12.5,
    "grounds": 9.2,
    "answer": 11,
    "previsit": 11,
    "many": 12,
    "verdict": 10,
    "decide": 8.5,
    "records": -1,
    "costs": 0,
    "plan": 9,
    "weigh": 8,
    "result": 7,
    "result_parts": 6.1,
    "frame_rows": 6.3,
    "frames": 6.5,
    "paper": 6,
    "money": 5,
    "loads": 5,
    "interval": 5,
    "meter": 5,
    "facts": 3,
    "say": 2,
    "voices": 2.5,
    "rounding": 1,
    "local_forms": 1,
    "texts": 4,
    "show": 0,
    "kinds": 2,
    "prior_odds": 3,
    "house": 1,
    "array_types": 0,
    "clock": 0,
    "distributions": 0,
    "units": 1,
    "errors": 0,
    "progress": 0,
    "started": 0,
    "contract": 0,
    "on_demand": 0,
}
ONLY_IN_REPORT = {"matplotlib", "jinja2", "xlsxwriter"}
ONLY_IN_CLI = {"click"}
LAZY_EVERYWHERE = {"pandas", "scipy", "matplotlib", "openpyxl", "pint", "jinja2", "xlsxwriter", "statsmodels"}
DECLARATIONS = {"reconcile.read.tables.columns", "reconcile.read.tables.examples"}
"""What a table is, said once: the readers go by it, and the starter that is handed out offers it."""
ROOMS = {
    "read": (
        ("values",),
        ("tables",),
        ("layouts",),
        ("wrappings",),
        ("bills",),
        ("household",),
        ("on_site", "timeline"),
        ("in_memory",),
    ),
    "report": (("views",), ("drawn",), ("pages",), ("workbooks", "screens")),
}
"""Rooms of a folder, from what knows least to what knows most."""
LONGEST = 450

MODULES = sorted(ROOT.rglob("*.py"))


def dotted(path):
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {dotted(path) for path in MODULES}


def imports(path):
    """Modules imported, those for the type checker alone left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    todo, found = [tree], []
    while todo:
        node = todo.pop()
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        if isinstance(node, ast.ImportFrom):
            found.append(node.module or "")
            found += NAMES & {f"{node.module}.{alias.name}" for alias in node.names}
        todo += ast.iter_child_nodes(node)
    return found


def part(module):
    pieces = module.split(".")
    return pieces[1] if len(pieces) > 1 else ""


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_imports_go_down_only(path):
    here = part(dotted(path))
    if here == "":
        pytest.skip("the public face names everything, lazily")
    for module in imports(path):
        if not module.startswith("reconcile") or module == "reconcile":
            continue
        there = part(module)
        if there == here or (here == "report" and module in DECLARATIONS):
            continue
        if here == "read":
            assert FLOOR[there] < FLOOR["weigh"], f"{dotted(path)} imports {module}"
        else:
            floor = FLOOR["verdict"] if there == "read" else FLOOR[there]  # the answer holds a house against the gate
            assert floor < FLOOR[here], f"{dotted(path)} imports {module}"


@pytest.mark.parametrize("path", [p for folder in ROOMS for p in sorted((ROOT / folder).glob("*/*.py"))], ids=dotted)
def test_within_a_folder_imports_go_one_way(path):
    _, folder, here, *_ = dotted(path).split(".")
    level = {room: number for number, rooms in enumerate(ROOMS[folder]) for room in rooms}
    for module in imports(path):
        _, there, *rest = (*module.split("."), "")
        if there == folder and rest[0] in level and rest[0] != here:
            assert level[rest[0]] < level[here], f"{dotted(path)} imports {module}"


def test_no_imports_go_in_a_circle():
    TopologicalSorter({dotted(path): NAMES.intersection(imports(path)) - {"reconcile"} for path in MODULES}).prepare()


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_the_heavy_ones_stay_where_they_belong(path):
    here = part(dotted(path))
    roots = {module.split(".")[0] for module in imports(path)}
    assert here in ("report", "cli") or not roots & ONLY_IN_REPORT
    assert here in ("report", "console", "checking", "cli") or not roots & ONLY_IN_CLI
    assert here in ("report", "read") or "openpyxl" not in roots


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_no_module_grows_out_of_hand(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST


def loaded_by(code):
    """Top-level packages that a fresh interpreter holds after running some code."""
    run = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(*{{m.split('.')[0] for m in sys.modules}})"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(run.stdout.splitlines()[-1].split())


def test_importing_the_package_imports_nothing_heavy():
    assert not loaded_by("import reconcile") & (LAZY_EVERYWHERE | {"numpy", "click"})


def test_asking_for_help_imports_nothing_heavy():
    assert not loaded_by("from reconcile.cli import run; run(['--help'])") & (LAZY_EVERYWHERE | {"numpy"})


def test_weighing_imports_no_report():
    assert (
        not loaded_by("import reconcile.weigh, reconcile.paper, reconcile.loads, reconcile.interval") & LAZY_EVERYWHERE
    )


def test_a_house_of_bills_loads_neither_field_tests_nor_interval_data_nor_pandas_nor_a_window(tmp_path):
    sample = ROOT.parent / "sample_bills" / "fast_meter"
    run = (
        f"from reconcile.cli import run; run(['check', {str(sample)!r}, '--quiet', '--out', {str(tmp_path / 'out')!r}])"
    )
    code = f"{run}\nimport sys; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "reconcile.answer" in loaded
    assert not loaded & {
        "reconcile.meter.judge",
        "reconcile.meter.load_run",
        "reconcile.plan.field_plan",
        "reconcile.interval.examined",
        "reconcile.interval.clusters",
        "reconcile.read.layouts.interval_names",
        "pandas",
        "openpyxl",
        "rich",
        "matplotlib.pyplot",
    }


def test_no_two_modules_have_one_name():
    names = [path.stem for path in MODULES if not path.stem.startswith("__")]
    assert sorted(names) == sorted(set(names))
