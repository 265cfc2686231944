"""A logbook of any earlier version is brought up to date with all that it holds."""

import json
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory

from tests.cases import in_ci
from tonematch.errors import LogbookError
from tonematch.logbook.core import Piece
from tonematch.logbook.database.file_place import FilePlace
from tonematch.logbook.database.opening import MIGRATIONS, open_engine
from tonematch.logbook.database.sums import rows_with_wrong_sums
from tonematch.logbook.store import open_logbook
from tonematch.measure.core import Comparison
from tonematch.toning.core import Coat, Layer, Strip, Surface, Trial
from tonematch.toning.layers.shelf import load_boles
from tonematch.toning.planning.ground import Ground

STEPS = [step.revision for step in ScriptDirectory(str(MIGRATIONS)).walk_revisions()][::-1]


def of_one_layer(strips: str) -> str:
    """Strips as they were kept up to the fourteenth step."""
    gone = {"before": [88.0, 6.0, 35.0], "gain": 0.1}
    return json.dumps([
        {**strip["steps"][0], "first": strip["first"], **gone} for strip in json.loads(strips)
    ])  # fmt: skip


def older_logbook(path: Path, last: str, newest: Path) -> None:
    """A logbook of the steps up to one, with those values of the newest that it can hold."""
    open_engine(FilePlace(path), 1.0, until=last).dispose()
    with closing(sqlite3.connect(path)) as older:
        older.execute("ATTACH ? AS newest", (str(newest),))
        tables = [
            name for (name,) in older.execute("SELECT name FROM sqlite_master WHERE type='table'")
        ]
        for table in tables:
            if table == "alembic_version":
                continue
            columns = ", ".join(row[1] for row in older.execute(f"PRAGMA table_info({table})"))
            older.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM newest.{table}")
            if table == "strip_sheets" and last < "0015":
                older.create_function("of_one_layer", 1, of_one_layer)
                older.execute("UPDATE strip_sheets SET strips = of_one_layer(strips)")
        older.commit()


def test_steps_are_numbered_in_their_order() -> None:
    assert sorted(STEPS) == STEPS


@pytest.mark.parametrize("last", [STEPS[0], *map(in_ci, STEPS[1:-2]), STEPS[-2]])
def test_what_an_earlier_version_kept_is_there(
    tmp_path: Path, trial: Trial, comparison: Comparison, last: str
) -> None:
    newest, path = tmp_path / "newest.sqlite", tmp_path / "older" / "logbook.sqlite"
    wash = Strip((Coat(Layer("raw umber wash", "wash"), 0.5),))
    bare = Ground(Surface("water", "burnished"))
    with open_logbook(newest) as logbook:
        logbook.add_piece(Piece("frame", "water", "burnished"))
        logbook.keep_strips("frame", [wash], bare)
        logbook.keep_comparison("frame", comparison)
        logbook.exclude_trial(logbook.add_trial(trial, before=comparison.repair), "wrong pot")
        # A bole as it was called up to the sixth step.
        bole = "salmon bole" if last <= "0006" else "pink bole"
        rub = Layer("rub to pink", "rub", beneath=bole)
        logbook.add_layer(rub)
        logbook.keep_strips("frame", [Strip((Coat(rub, 0.5),), (rub,))], bare)
    path.parent.mkdir()
    older_logbook(path, last, newest)
    with open_logbook(path) as logbook:
        history = logbook.history("frame")
        assert history.piece == Piece("frame", "water", "burnished")
        (compared,) = history.comparisons
        assert compared.comparison.delta_e == comparison.delta_e
        assert compared.original.aids is None
        (kept,) = history.trials
        assert kept.trial.application.strength == trial.application.strength
        assert kept.trial.before_lustre is None
        (rub,) = logbook.own_layers()
        assert rub.beneath in load_boles()
        shown = [one for kept in logbook.strip_sheets("frame") for one in kept.strips[0].first]
        assert shown == ([rub] if last >= "0003" else [])
        # A sheet from before its ground was kept had nothing laid on every strip.
        sheets = logbook.strip_sheets("frame")
        assert [sheet.ground for sheet in sheets] == ([bare, bare] if last >= "0003" else [])
        # What the newest version keeps has its place in the older file now.
        measured = replace(comparison, repair=replace(comparison.repair, lustre=1.5))
        logbook.keep_lustre(compared.id, measured)
        (kept,) = logbook.kept_trials("frame")
        assert kept.trial.before_lustre == 1.5
        assert [change.words for change in history.changes] == ["left out"]
        logbook.correct_trial(kept.id, otherwise_read(trial))
        assert logbook.corrected_trials().keys() == {kept.id}
        # Every row has its sum, whatever step it was written at.
        with logbook.reading() as session:
            assert not any(rows_with_wrong_sums(session.connection()).values())
        # Its one gold can be named, and have another beside it.
        logbook.change_piece("frame", replace(history.piece, zone="edge"))
        logbook.add_piece(Piece("frame", zone="flat"))
        assert [len(each.trials) for each in logbook.histories("frame")] == [1, 0]
    # The file as it was stays beside it.
    assert list(path.parent.glob(f"logbook {last} until *.sqlite"))


def otherwise_read(trial: Trial) -> Trial:
    """The trial with another colour after it."""
    return Trial(trial.application, trial.after + 1.0, trial.piece)


def test_corrections_that_were_taken_back_stay_so(tmp_path: Path, trial: Trial) -> None:
    """Up to the sixteenth step a putting back did not say which correction it took back."""
    newest, path = tmp_path / "newest.sqlite", tmp_path / "older" / "logbook.sqlite"
    with open_logbook(newest) as logbook:
        logbook.add_trial(trial)
        for more in (1.0, 2.0):
            logbook.correct_trial(1, replace(trial, after=trial.after + more))
    path.parent.mkdir()
    older_logbook(path, "0015", newest)
    with closing(sqlite3.connect(path)) as older:
        second = json.dumps({"put back": {"after_L": 64.0, "after_a": 8.0, "after_b": 38.1}})
        older.execute(
            "INSERT INTO changes (table_name, row_id, words, before, reason, made_at) "
            "VALUES ('trials', 1, 'put back as it was', ?, '', '2026-01-01T10:00:00+00:00')",
            [second],
        )
        older.commit()
    with open_logbook(path) as logbook:
        assert {change.words[:9] for change in logbook.history("frame").changes[:2]} == {
            "put right"
        }
        logbook.put_back_trial(1)  # the first, since the second was put back then
        with pytest.raises(LogbookError, match="nothing to put back"):
            logbook.put_back_trial(1)


def test_rows_of_a_damaged_logbook_get_no_sum_that_says_they_are_sound(
    tmp_path: Path, trial: Trial
) -> None:
    """Steps applied later give sums anew, but not to what was wrong before."""
    path, migrations = tmp_path / "logbook.sqlite", tmp_path / "migrations"
    with open_logbook(path) as logbook:
        logbook.add_trials([trial, replace(trial, note="another")])
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE trials SET note = 'forged' WHERE id = 2")
        other.commit()
    shutil.copytree(MIGRATIONS, migrations)
    (migrations / "versions" / "9999_more.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision, down_revision = '9999', {STEPS[-1]!r}\n"
        "def upgrade():\n"
        "    op.add_column('trials', sa.Column('more', sa.String(), server_default='x'))\n"
    )
    engine = open_engine(FilePlace(path), 1.0, migrations)
    with engine.connect() as connection:
        assert rows_with_wrong_sums(connection)["trials"] == {2}
    engine.dispose()
