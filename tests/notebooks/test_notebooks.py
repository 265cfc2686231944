"""Every notebook runs from its first cell to its last."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


def test_there_is_a_notebook() -> None:
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
# The kernel's own client libraries warn of things that are not ours to mend.
@pytest.mark.filterwarnings("default")
def test_notebook_runs(path: Path) -> None:
    notebook: nbformat.NotebookNode = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    NotebookClient(notebook, timeout=600, kernel_name="python3").execute(cwd=path.parent)
    ran = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in ran)
    pictures = [
        output for cell in ran for output in cell.outputs if "image/png" in output.get("data", {})
    ]
    assert pictures
