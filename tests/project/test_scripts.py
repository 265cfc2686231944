"""The scripts behind the README's figures run from a clone, or say in a sentence what they lack."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.measure import real_photographs

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.proof
@pytest.mark.parametrize(
    ("command", "row"),
    [
        (["tests.toning.loop_table", "--cases", "1", "--jobs", "1"], "layer model, eighths"),
        (["tests.toning.first_guess_table", "--seeds", "1"], "width of the hue"),
        (["tests.toning.lustre_table", "--seeds", "1"], "    60"),
        (["tests.toning.ways_table", "--cases", "1", "--only", "nearest trial"], "nearest trial"),
        (["tests.toning.foretold_table", "--workshops", "1", "--sizes", "20"], "20 layer model"),
    ],
)
def test_a_table_is_printed_with_nothing_beside_the_clone(command: list[str], row: str) -> None:
    ran = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.stderr == ""
    assert ran.returncode == 0
    assert row in ran.stdout


def test_a_table_of_photographs_that_are_not_there_ends_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as ended:
        real_photographs.main(["--photos", str(tmp_path)])
    # What `sys.exit` is given is printed on standard error.
    assert str(ended.value.code).endswith("which are not part of the project.")
