"""strips: choose them for a gap, print their sheet, read its photograph back; and pieces."""

import re
from pathlib import Path

import pytest

from tests.cli.commands import Ran, Run, refused
from tests.cli.picture_files import FRAME_CORNERS, sheet_picture
from tonematch.logbook.store import open_logbook
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.measure.core import Comparison
from tonematch.toning.core import Layer, Surface, Technique
from tonematch.toning.layers.mix import USUAL_POT, say_pot
from tonematch.toning.layers.rules import check_layering
from tonematch.toning.layers.shelf import load_shelf

MIRROR = "hall mirror"
NEW_GOLD, OLD_GOLD = "89.5,8.4,35.2", "79.3,9.6,33.4"
FEW = ("--shelf", "raw umber wash,ivory black wash,clear shellac seal", "--number", 4)
WHITE = (120.0, 0.0, 0.0)  # no picture holds it


@pytest.fixture
def book(run: Run, tmp_path: Path) -> Path:
    """A logbook with one piece, of water gilding over red bole."""
    path = tmp_path / "book.sqlite"
    ran = run("pieces", "add", MIRROR, "--technique", "water", "--finish", "burnished", "--bole",
              "red", "--logbook", path)  # fmt: skip
    assert ran.status == 0
    return path


def choose(run: Run, book: Path, out: Path, *options: object) -> Ran:
    gap = ("--from", NEW_GOLD, "--to", OLD_GOLD)
    return run("strips", "choose", MIRROR, "--out", out, *gap, *FEW, *options, "--logbook", book)


def read(run: Run, book: Path, photo: Path, *options: object) -> Ran:
    return run("strips", "read", photo, "--piece", MIRROR, "--frame", FRAME_CORNERS, *options,
               "--logbook", book)  # fmt: skip


def shown(chosen: Ran, layers: int = 1) -> list[list[tuple[float, float, float]]]:
    """What the fields of each chosen strip show once so many layers lie there."""
    return [
        [(85.0 - i - 8.0 * min(n, layers), 6.0, 33.0 - 2.0 * min(n, layers))
         for n in range(len(strip["steps"]) + 1)]
        for i, strip in enumerate(chosen.json["strips"])
    ]  # fmt: skip


def test_a_sheet_goes_out_and_comes_back_as_trials(run: Run, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    chosen = choose(run, book, out, "--json")
    assert chosen.json["sheet"] == 1
    strips = chosen.json["strips"]
    page = out.read_text(encoding="utf-8")
    assert "<b>Test strips for hall mirror</b>" in page
    for strip in strips:
        for step in strip["steps"]:
            said = say_pot(load_shelf()[step["layer"]], step["strength"], USUAL_POT)
            assert f"{step['layer']}: {said}" in page.replace(", 2 coats: ", ": ")
    # Watercolour on bare burnished water gilding is blocked (RU, WR): a seal goes first.
    for stack in printed_stacks(page, "water"):
        assert stack[0].kind == "seal" or "raw umber wash" not in {layer.name for layer in stack}
    photo = sheet_picture(tmp_path / "sheet.png", shown(chosen))
    found = read(run, book, photo, "--date", "2026-05-31", "--json").json
    assert found["added"] == len(strips) == 3
    for trial, strip, (before, after, *_) in zip(
        found["trials"], strips, shown(chosen), strict=True
    ):
        assert {name: trial[name] for name in strip["steps"][0]} == strip["steps"][0]
        assert float(delta_e_2000(trial["before"], before)) < 0.3
        assert float(delta_e_2000(trial["after"], after)) < 0.3
    with open_logbook(book) as opened:
        kept = opened.trials()
        (kept_photo,) = opened.history(f"test strips for {MIRROR}, sheet 1").photographs
        assert opened.trials(MIRROR) == []
    assert {(t.application.technique, t.date) for t in kept} == {("water", "2026-05-31")}
    assert kept_photo.path.read_bytes() == photo.read_bytes()
    again = read(run, book, photo, "--date", "2026-05-31", "--layers", "1")
    assert "0 of 3 trials added; the others were in the logbook already." in again.out


def test_a_strip_frames_no_mirror(run: Run, book: Path, tmp_path: Path) -> None:
    told = run("pieces", "gilding", MIRROR, "--glass", "old mirror", "--logbook", book).out
    assert "Mirror glass is heavy" in told
    choose(run, book, tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "silvering" not in page
    assert "Mirror glass" not in page


def test_stacks_are_read_after_every_layer(run: Run, book: Path, tmp_path: Path) -> None:
    """The next layer is read unless told; a strip on which one failed is left out of it."""
    chosen = choose(run, book, tmp_path / "sheet.html", "--json")
    deep = [len(strip["steps"]) for strip in chosen.json["strips"]]
    stack = 1 + deep.index(max(deep))
    others = [number for number in (1, 2, 3) if number != stack]
    assert max(deep) >= 2
    for layer, made_well in ((1, [stack, *others]), (2, [stack, others[1]]), (3, [stack])):
        if layer > max(deep):
            break
        added = sum(deep[number - 1] >= layer for number in made_well)
        made = ",".join(map(str, sorted(made_well)))
        photo = sheet_picture(tmp_path / f"{layer}.png", shown(chosen, layer))
        assert read(run, book, photo, "--made", made, "--json").json["added"] == added
    sheet = f"test strips for {MIRROR}, sheet 1"
    with open_logbook(book) as opened:
        if deep[others[0] - 1] > 1:  # a strip of one layer is no stack, without a name of its own
            assert opened.trials(f"{sheet}, strip {others[0]}")[-1].step == 1
        chain = opened.trials(f"{sheet}, strip {stack}")
        assert opened.piece(f"{sheet}, strip {stack}").technique == "water"
    steps = chosen.json["strips"][stack - 1]["steps"]
    for number, (trial, step) in enumerate(zip(chain, steps, strict=True), start=1):
        assert (trial.step, trial.application.layer) == (number, step["layer"])
        laid = trial.application.before, trial.after
        seen = shown(chosen, max(deep))[stack - 1][number - 1 :]
        for lab, colour in zip(laid, seen, strict=False):
            assert float(delta_e_2000(lab, colour)) < 0.3
    refused(read(run, book, photo, "--layers", "4"), "no layer 4")


def printed_stacks(page: str, technique: Technique) -> list[list[Layer]]:
    """What the printed sheet would have one lay on each strip, the lowest first; judged."""
    shelf = load_shelf()

    def named(words: str) -> list[Layer]:
        return [shelf[name] for name in re.findall("|".join(shelf), words)]

    ground = [layer for line in re.findall("<li>.*, on every strip: (.*)", page)
              for layer in named(line)]  # fmt: skip
    laid: dict[str, list[Layer]] = {}
    for number, words in re.findall("<tr><td>([0-9]+)</td><td>.*?</td><td>(.*?)</td>", page):
        laid.setdefault(number, [*ground]).extend(named(words))
    stacks = list(laid.values())
    for stack in stacks:
        findings = check_layering(Surface(technique, "burnished"), stack)
        assert [f.sentence for f in findings if f.severity == "blocked"] == []
    return stacks


@pytest.mark.parametrize(
    ("technique", "laid", "told"),
    [
        ("water", (), "Nothing lies on the gold of the repair"),
        ("oil", (), "Nothing lies on the gold of the repair"),
        ("water", ("low-polarity resin seal", "raw umber wash"),
         "First, on every strip: one thin coat of low-polarity resin seal, as on the repair; let "
         "it dry 2 to 12 hours.</li> <li>Then, on every strip: raw umber wash, as strong as on the "
         "repair; let it dry 15 to 60 minutes."),
    ],
)  # fmt: skip
def test_strips_stand_on_what_lies_on_the_repair(
    run: Run, tmp_path: Path, technique: Technique, laid: tuple[str, ...], told: str
) -> None:
    """Sheet, choice and read-back: one ground, and no strip breaks a rule of layering on it."""
    path, out = tmp_path / "ground.sqlite", tmp_path / "sheet.html"
    lies = [word for name in laid for word in ("--laid", name)]
    run("pieces", "add", MIRROR, "--technique", technique, "--finish", "burnished", *lies,
        "--logbook", path)  # fmt: skip
    chosen = choose(run, path, out, "--json")
    assert [one["layer"] for one in chosen.json["ground"]["laid"]] == list(laid)
    page = out.read_text(encoding="utf-8")
    assert told in " ".join(page.split())
    stacks = printed_stacks(page, technique)
    assert any("raw umber wash" in {layer.name for layer in stack} for stack in stacks)

    read(run, path, sheet_picture(tmp_path / "sheet.png", shown(chosen)))
    with open_logbook(path) as opened:
        strips = opened.piece(f"test strips for {MIRROR}, sheet 1")
        trials = opened.trials()
    assert (strips.technique, strips.laid_before) == (technique, laid)
    assert len(trials) == len(stacks)
    for trial, stack, strip in zip(trials, stacks, chosen.json["strips"], strict=True):
        under = stack[: -len(strip["steps"])]
        beneath = ", then ".join(layer.name for layer in under) or "bare gold"
        assert trial.note.endswith(f", over {beneath}")
        assert trial.application.technique == technique


def test_a_layer_laid_since_goes_on_every_strip_in_its_strength(
    run: Run, book: Path, tmp_path: Path
) -> None:
    table, out = tmp_path / "laid.csv", tmp_path / "sheet.html"
    table.write_text(
        "piece,technique,finish,layer,strength,coats,before_L,before_a,before_b,after_L,after_a,"
        f"after_b\n{MIRROR},water,burnished,button shellac,0.5,2,89,8,35,86,9,35\n"
    )
    run("trials", "import", table, "--logbook", book)
    words = "n every strip: button shellac, 2 coats: 1.2 g button shellac in 20 ml alcohol; as on"
    assert f"O{words}" in choose(run, book, out).out
    page = out.read_text(encoding="utf-8")
    assert f"First, o{words}" in page
    assert all(stack[0].name == "button shellac" for stack in printed_stacks(page, "water"))


@pytest.mark.proof
def test_only_strips_that_were_made(run: Run, book: Path, tmp_path: Path) -> None:
    chosen = choose(run, book, tmp_path / "sheet.html", "--json")
    photo = sheet_picture(tmp_path / "sheet.png", shown(chosen))
    found = read(run, book, photo, "--made", "1,3", "--json").json
    assert [trial["note"].split(",")[0] for trial in found["trials"]] == ["strip 1", "strip 3"]


def test_the_gap_is_that_of_the_last_comparison(
    run: Run, book: Path, tmp_path: Path, comparison: Comparison
) -> None:
    typed = choose(run, book, tmp_path / "typed.html", "--from", "68,6,40", "--to", "60,8,32",
                   "--json").json["strips"]  # fmt: skip
    with open_logbook(book) as opened:
        opened.keep_comparison(MIRROR, comparison)
    ran = run("strips", "choose", MIRROR, "--out", tmp_path / "kept.html", *FEW, "--json",
              "--logbook", book)  # fmt: skip
    # The comparison's readings are surer than typed colours, and so is what lies under a seal.
    assert ran.json["strips"][0] == typed[0]


@pytest.mark.proof
def test_nothing_is_guessed_where_there_are_two_sheets(
    run: Run, book: Path, tmp_path: Path
) -> None:
    refused(read(run, book, sheet_picture(tmp_path / "none.png", [[WHITE] * 2])), "strips choose")
    for name in ("one.html", "two.html"):
        chosen = choose(run, book, tmp_path / name, "--json")
    photo = sheet_picture(tmp_path / "sheet.png", shown(chosen))
    refused(read(run, book, photo), "say which with --sheet")
    refused(read(run, book, photo, "--sheet", 9), "say which with --sheet")
    assert read(run, book, photo, "--sheet", 2, "--json").json["sheet"] == 2


def test_a_sheet_is_never_written_over_anything(run: Run, book: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine.html"
    mine.write_text("mine")
    refused(choose(run, book, mine), "exists already")
    refused(choose(run, book, tmp_path / "none" / "sheet.html"), "cannot be written")
    assert mine.read_text() == "mine"
    with open_logbook(book) as opened:
        assert opened.strip_sheets(MIRROR) == []


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--number", 0), "1 to 20"),
        (("--number", 21), "1 to 20"),
        (("--number", "many"), "--number"),
        (("--shelf", "dark wx"), "did you mean 'dark wax'"),
        (("--shelf", "raw umber wash"), "no strip"),
        (("--from", "nan,6,35"), "--from"),
        (("--to", "79,9"), "--to"),
    ],
)
def test_bad_choices(
    run: Run, book: Path, tmp_path: Path, options: tuple[object, ...], words: str
) -> None:
    out = tmp_path / "sheet.html"
    refused(choose(run, book, out, *options), words)
    assert not out.exists()


def test_choosing_needs_a_piece_and_a_gap(
    run: Run, book: Path, empty_logbook: Path, tmp_path: Path
) -> None:
    out = ("--out", tmp_path / "sheet.html")
    refused(run("strips", "choose", MIRROR, *out, "--logbook", empty_logbook), "has none yet")
    refused(run("strips", "choose", "hal miror", *out, "--logbook", book), "'hall mirror'")
    refused(run("strips", "choose", MIRROR, *out, "--logbook", book), "--from and --to")
    one = run("strips", "choose", MIRROR, *out, "--from", NEW_GOLD, "--logbook", book)
    refused(one, "both --from and --to")


def test_bad_readings_keep_nothing(run: Run, book: Path, tmp_path: Path) -> None:
    chosen = choose(run, book, tmp_path / "sheet.html", "--json")
    photo = sheet_picture(tmp_path / "sheet.png", shown(chosen))
    for option, value, words in (
        ("--frame", "1,2,3,4", "eight numbers"),
        ("--frame", "0,0,800,900,800,0,0,900", "no frame"),
        ("--frame", "0,0,9000,0,9000,9000,0,9000", "outside"),
        ("--made", "one", "whole numbers"),
        ("--made", "5", "no strip 5"),
        ("--date", "31.5.2026", "year first"),
        ("--card", "1,1", "is not a box"),
        ("--card", "1,1,9000,9", "outside"),
        ("--card-reflectance", "18", "reflectance of 18"),
        ("--piece", "hal miror", "'hall mirror'"),
    ):
        refused(read(run, book, photo, option, value), words)
    with open_logbook(book) as opened:
        assert opened.trials() == []


def test_photographs_without_strips(run: Run, book: Path, tmp_path: Path) -> None:
    chosen = choose(run, book, tmp_path / "sheet.html", "--json")
    refused(read(run, book, tmp_path / "none.png"), "no file")
    white = [[WHITE] * len(fields) for fields in shown(chosen)]
    burnt_out = sheet_picture(tmp_path / "sheet.png", white)
    refused(read(run, book, burnt_out), "No strip of the sheet could be read. Strip 1")


def test_a_strip_that_cannot_be_read_is_named(run: Run, book: Path, tmp_path: Path) -> None:
    fields = shown(choose(run, book, tmp_path / "sheet.html", "--json"))
    stack = max(range(3), key=lambda number: len(fields[number]))
    fields[stack] = [WHITE] * len(fields[stack])
    told = read(run, book, sheet_picture(tmp_path / "sheet.png", fields)).out
    assert "2 of 2 trials added." in told
    assert f"Note: Strip {stack + 1}, layer 1 is left out." in told


def test_pieces_are_listed_and_none_is_lost(run: Run, book: Path) -> None:
    refused(run("pieces", "add", MIRROR, "--logbook", book), "already")
    refused(run("pieces", "add", " ", "--logbook", book), "name")
    refused(run("pieces", "add", "x", "--tolerance", -1, "--logbook", book), "tolerance of -1")
    refused(run("pieces", "add", "x", "--technique", "fire", "--logbook", book), "--technique")
    refused(run("pieces", "add", "x", "--laid", "dark wx", "--logbook", book), "'dark wax'")
    told = run("pieces", "list", "--logbook", book).out.splitlines()
    stands = "tolerance CIEDE2000 2; not yet photographed"
    assert told == [f"{MIRROR}: gilding water, burnished; {stands}", "Pieces: 1."]


def test_what_is_said_of_a_piece_is_kept(run: Run, book: Path) -> None:
    said = ("--hangs-in", "hall, north light", "--wish", "aged in", "--logbook", book)
    assert run("pieces", "add", "pier glass", *said).status == 0
    with open_logbook(book) as logbook:
        piece = logbook.piece("pier glass")
    assert (piece.hangs_in, piece.wish) == ("hall, north light", "aged in")


def test_what_lies_on_the_piece_counts(run: Run, book: Path, tmp_path: Path) -> None:
    """Nothing holds over wax (from memory): on a waxed piece no wash is tried."""
    run("pieces", "add", "waxed", "--technique", "water", "--laid", "dark wax", "--logbook", book)
    ran = run("strips", "choose", "waxed", "--out", tmp_path / "s.html", "--from", NEW_GOLD, "--to",
              OLD_GOLD, "--shelf", "raw umber wash", "--logbook", book)  # fmt: skip
    refused(ran, "no strip")


def test_strips_never_repeat_what_breaks_a_rule(run: Run, tmp_path: Path) -> None:
    """Watercolour on bare water gilding lifts it: Rivers and Umney; Workshop Receipts."""
    book, out = tmp_path / "book.sqlite", tmp_path / "sheet.html"
    run("pieces", "add", MIRROR, "--technique", "water", "--laid", "raw umber wash", "--logbook",
        book)  # fmt: skip
    refused(choose(run, book, out), "strips repeat it. Raw umber wash is water-borne and lifts")
    assert not out.exists()
