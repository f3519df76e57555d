"""Every notebook runs from its first cell to its last; their asserts are theirs to make."""

from pathlib import Path

import jupytext
import nbclient
import pytest

ROOT = Path(__file__).parents[1]
NOTEBOOKS = sorted(path.name for path in (ROOT / "notebooks").glob("*.py"))


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::RuntimeWarning", "ignore::ResourceWarning")
@pytest.mark.parametrize("name", NOTEBOOKS)
def test_notebook(name):
    notebook = jupytext.read(ROOT / "notebooks" / name, fmt="py:percent")
    nbclient.NotebookClient(
        notebook, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(ROOT)}}
    ).execute()
    assert any(cell.get("outputs") for cell in notebook.cells)


def test_there_is_one_for_each_kind_of_user():
    assert {"analyst.py", "auditor.py", "homeowner.py"} <= set(NOTEBOOKS)
