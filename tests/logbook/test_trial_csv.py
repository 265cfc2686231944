"""The table of trials: what is taken, what is refused, and that nothing changes on the way."""

import io
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tonematch.errors import TrialError
from tonematch.logbook.trial_csv import COLUMNS, read_trials, trials_table
from tonematch.toning.core import KINDS, Application, Layer, Trial

HEADER = ",".join(COLUMNS)
GOOD = "frame,2026-03-31,water,burnished,1,raw umber wash,wash,0.5,2,70,5,40,62,6,36,left edge"
OVERPRINTS = Path(__file__).resolve().parents[3] / "shared" / "trials" / "overprints.csv"


def table(*rows: str, header: str = HEADER) -> io.StringIO:
    return io.StringIO("\n".join([header, *rows]) + "\n")


def changed(**fields: str) -> str:
    """The good row with some fields changed."""
    texts = dict(zip(COLUMNS, GOOD.split(","), strict=True)) | fields
    return ",".join(texts.values())


def refusal(source: Path | io.StringIO, shelf: Mapping[str, Layer]) -> str:
    with pytest.raises(TrialError) as caught:
        read_trials(source, shelf)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


def test_a_whole_row_is_read(small_shelf: Mapping[str, Layer]) -> None:
    (trial,) = read_trials(table(GOOD), small_shelf)
    application = trial.application
    assert (application.layer, application.kind) == ("raw umber wash", "wash")
    assert (application.strength, application.coats) == (0.5, 2)
    assert (application.technique, application.finish) == ("water", "burnished")
    assert application.before.tolist() == [70.0, 5.0, 40.0]
    assert trial.after.tolist() == [62.0, 6.0, 36.0]
    assert (trial.piece, trial.date, trial.step) == ("frame", "2026-03-31", 1)
    assert trial.note == "left edge"


def test_required_columns_are_enough(small_shelf: Mapping[str, Layer]) -> None:
    header = "after_b,after_a,after_L,before_b,before_a,before_L,strength,layer"
    (trial,) = read_trials(table("36,6,62,40,5,70,0.5,Rottenstone", header=header), small_shelf)
    assert trial.application.before.tolist() == [70.0, 5.0, 40.0]
    assert (trial.application.layer, trial.application.kind) == ("rottenstone", "dust")
    assert (trial.application.coats, trial.step, trial.piece) == (1, 1, "")
    assert (trial.application.technique, trial.application.finish) == ("unknown", "unknown")


def test_unknown_layer_is_taken_when_its_kind_is_said(small_shelf: Mapping[str, Layer]) -> None:
    rows = [changed(layer="Soot", kind="dust"), changed(layer="soot", kind="dust")]
    trials = read_trials(table(*rows), small_shelf)
    assert [t.application.layer for t in trials] == ["Soot", "Soot"]


def test_byte_order_mark_blank_rows_and_true_minus(
    tmp_path: Path, small_shelf: Mapping[str, Layer]
) -> None:
    path = tmp_path / "trials.csv"
    row = changed(before_a="\u22125")
    path.write_bytes(f"\ufeff{HEADER}\r\n\r\n{row}\r\n,,,\r\n".encode())
    (trial,) = read_trials(path, small_shelf)
    assert trial.application.before[1] == -5.0


@pytest.mark.parametrize(
    ("fields", "column", "words"),
    [
        ({"before_L": '"45,2"'}, "before_L", "45.2 with a point"),
        ({"before_L": "nan"}, "before_L", "not a number"),
        ({"after_b": "inf"}, "after_b", "not a number"),
        ({"after_b": "1e999"}, "after_b", "inf"),
        ({"after_b": ""}, "after_b", "empty"),
        ({"after_b": "1_0"}, "after_b", "not a number"),
        ({"strength": "0"}, "strength", "not above 0"),
        ({"strength": "-1"}, "strength", "not above 0"),
        ({"strength": "10.5"}, "strength", "is that 0.1?"),
        ({"strength": "99"}, "strength", "is that 0.99?"),
        ({"coats": "0"}, "coats", "whole number"),
        ({"coats": "1.5"}, "coats", "whole number"),
        ({"coats": "21"}, "coats", "from 1 to 20"),  # as many as any face lets be laid
        ({"coats": "two"}, "coats", "not a number"),
        ({"step": "-2"}, "step", "whole number"),
        ({"before_L": "100.1"}, "before_L", "outside 0 to 100"),
        ({"after_L": "-1"}, "after_L", "outside 0 to 100"),
        ({"after_a": "151"}, "after_a", "outside -150 to 150"),
        ({"before_b": "-151"}, "before_b", "outside -150 to 150"),
        ({"kind": "varnish"}, "kind", "seal, glaze, wash, dust, wax, rub or lift"),
        ({"kind": "glaze"}, "kind", "is a wash on the shelf"),
        ({"layer": ""}, "layer", "empty"),
        ({"layer": "raw umbre wash", "kind": ""}, "layer", "raw umber wash"),
        ({"technique": "fire"}, "technique", "water, oil or unknown"),
        ({"finish": "shiny"}, "finish", "burnished, matte or unknown"),
        ({"date": "31.3.2026"}, "date", "2026-03-31"),
        ({"date": "2026-02-30"}, "date", "not a date"),
        ({"piece": "fra\0me"}, "piece", "cannot be printed"),
        ({"note": "a,b"}, "note", "17 fields"),
        ({"before_a": "5,5", "note": ""}, "note", "17 fields and the header 16; write numbers"),
        ({"before_a": "5,5", "note": "36"}, "note", "17 fields"),
    ],
)
def test_a_faulty_field_is_named(
    fields: dict[str, str], column: str, words: str, small_shelf: Mapping[str, Layer]
) -> None:
    sentence = refusal(table(GOOD, changed(**fields)), small_shelf)
    assert f"line 3, column {column}: " in sentence
    assert words in sentence


def test_a_row_that_slid_along_by_a_decimal_comma_is_refused(
    small_shelf: Mapping[str, Layer],
) -> None:
    """A field left off makes room for the second half of a number."""
    header = ",".join(("layer", "strength", *COLUMNS[9:15], "coats", "step"))
    row = "raw umber wash,0.5,80,5,5,30,75,6,31"
    assert "9 fields and the header 10" in refusal(table(row, header=header), small_shelf)
    slid = changed(before_a="5,5").removesuffix(",left edge")
    assert "'36' is a number alone" in refusal(table(slid), small_shelf)


def test_first_faulty_row_is_named_and_the_rest_counted(
    small_shelf: Mapping[str, Layer],
) -> None:
    bad = changed(strength="0")
    assert "line 3" in refusal(table(GOOD, bad, GOOD, bad, bad), small_shelf)
    assert "2 more rows have faults" in refusal(table(bad, bad, GOOD, bad), small_shelf)
    assert "1 more row has faults" in refusal(table(bad, GOOD, bad), small_shelf)
    assert "more row" not in refusal(table(bad), small_shelf)


def test_line_number_counts_lines_of_the_file(small_shelf: Mapping[str, Layer]) -> None:
    two_lines = changed(note='"first\nsecond"')
    assert "line 5, column coats" in refusal(table(two_lines, "", changed(coats="0")), small_shelf)


def test_one_layer_has_one_kind(small_shelf: Mapping[str, Layer]) -> None:
    rows = [changed(layer="soot", kind="dust"), changed(layer="soot", kind="wash")]
    assert "line 3, column kind: 'soot' is a dust further up" in refusal(table(*rows), small_shelf)


def test_header_faults(small_shelf: Mapping[str, Layer]) -> None:
    assert "column after_L is missing" in refusal(
        table(GOOD, header=HEADER.replace("after_L", "afterL")), small_shelf
    )
    assert "stands there twice" in refusal(
        table(GOOD, header=HEADER.replace("date", "piece")), small_shelf
    )
    assert "if coats is meant" in refusal(
        table(GOOD, header=HEADER.replace("coats", "coat")), small_shelf
    )
    assert "semicolons" in refusal(
        table(GOOD.replace(",", ";"), header=HEADER.replace(",", ";")), small_shelf
    )
    assert "tabs" in refusal(
        table(GOOD.replace(",", "\t"), header=HEADER.replace(",", "\t")), small_shelf
    )
    assert "is empty" in refusal(io.StringIO(""), small_shelf)
    assert "no trials" in refusal(table(), small_shelf)


def test_files_that_are_no_tables(tmp_path: Path, small_shelf: Mapping[str, Layer]) -> None:
    path = tmp_path / "trials.csv"
    path.write_bytes(f"{HEADER}\n{GOOD} m\xe9tal\n".encode("latin-1"))
    sentence = refusal(path, small_shelf)
    assert "trials.csv, line 2 is not UTF-8" in sentence
    assert "choose UTF-8" in sentence
    path.write_bytes(f"{HEADER}\n{GOOD}\n".encode("utf-16"))
    assert "not UTF-8" in refusal(path, small_shelf)
    path.write_text(f'{HEADER}\n{GOOD[:-9]}"left', encoding="utf-8")
    assert "quotation mark" in refusal(path, small_shelf)
    assert "cannot be read" in refusal(tmp_path / "none.csv", small_shelf)
    assert "cannot be read" in refusal(tmp_path, small_shelf)


@pytest.mark.skipif(not OVERPRINTS.is_file(), reason="the shared measurements are not here")
def test_measured_overprints_are_read() -> None:
    """FOGRA39L characterisation, 160 rows, layers that no gilder's shelf knows."""
    trials = read_trials(OVERPRINTS, {})
    assert len(trials) == 160
    assert {t.application.layer for t in trials} == {"ink C", "ink M", "ink Y", "ink K"}


lightness = st.floats(0, 100)
opponent = st.floats(-150, 150)
lab = st.tuples(lightness, opponent, opponent).map(np.array)
letters = st.characters(exclude_categories=["Cc", "Cs"])
word = st.text(letters, max_size=20).map(str.strip)
notes = st.text(letters | st.sampled_from(["\n", '"', ","]), max_size=30).map(str.strip)
day = st.just("") | st.dates().map(lambda d: d.isoformat())
application = st.builds(
    Application,
    before=lab,
    layer=st.sampled_from(["soot", "smoke, thin", 'the "old" wash']),
    kind=st.just(KINDS[2]),
    strength=st.floats(0, 10, exclude_min=True),
    coats=st.integers(1, 20),
    technique=st.sampled_from(["water", "oil", "unknown"]),
    finish=st.sampled_from(["burnished", "matte", "unknown"]),
)
trial = st.builds(
    Trial, application, after=lab, piece=word, date=day, step=st.integers(1, 1000), note=notes
)


SOOT = Trial(
    Application(np.zeros(3), "soot", "wash", 1.0, 1, "water", "burnished"), np.zeros(3), "frame"
)


@given(st.lists(trial, min_size=1, max_size=5))
@example([SOOT, replace(SOOT, step=2)])  # the second lies on the first: that is not in a row
def test_what_is_written_is_read_back_to_the_last_digit(trials: list[Trial]) -> None:
    back = read_trials(io.StringIO(trials_table(trials), newline=""), {})
    assert [str(t) for t in back] == [str(t) for t in trials]
    for one, other in zip(trials, back, strict=True):
        assert np.array_equal(one.application.before, other.application.before)
        assert np.array_equal(one.after, other.after)
