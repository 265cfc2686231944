"""read and compare on the bundled photographs, whose true colours are known."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from tests.cli.commands import Run, refused
from tests.cli.picture_files import CARD, OLD, OLD_LAB, chart_picture, saved
from tests.measure.painted import GREY, lab_to_light, painted_light
from tonematch.measure.colour.difference import delta_e_2000
from tonematch.swatchbook import swatch_path

SCENE = swatch_path("demo", "scene-1.jpg")


def test_read_gives_each_area(run: Run, boxes: dict[str, str], demo_truth: dict[str, Any]) -> None:
    ran = run(
        "read", SCENE, "--card", boxes["card"], "--area", f"old={boxes['original']}",
        "--area", f"new={boxes['repair']}", "--json",
    )  # fmt: skip
    assert ran.status == 0
    assert ran.json["illuminant"] == "D50"
    assert ran.json["observer"] == "2"
    for name, role in (("old", "original"), ("new", "repair")):
        area = ran.json["areas"][name]
        true = demo_truth["scene-1.jpg"]["areas"][role]["lab"]
        # The card alone leaves the camera's own colour error, known from the rendering.
        assert float(delta_e_2000(area["lab"], true)) < 2.0
        assert np.linalg.eigvalsh(np.array(area["covariance"])).min() >= 0
        assert area["pixels"] + area["left_out"] == 280 * 190
        assert set(area["spread"]) == {"L", "C"}


def test_compare_finds_the_true_difference(
    run: Run, boxes: dict[str, str], demo_truth: dict[str, Any]
) -> None:
    ran = run(
        "compare", SCENE, "--card", boxes["card"], "--original", boxes["original"],
        "--repair", boxes["repair"], "--json",
    )  # fmt: skip
    assert ran.status == 0
    found = ran.json
    assert abs(found["delta_e_2000"] - demo_truth["scene-1.jpg"]["delta_e_2000"]) < 0.5
    assert found["interval_95"][0] <= found["delta_e_2000"] <= found["interval_95"][1]
    assert found["geometry"].startswith("body colour: lamps at the sides")
    assert found["verdict"] == "no match"
    assert found["words"].startswith("The repair is much lighter")
    assert found["delta"]["L"] > 0
    assert set(found["delta"]) == {"L", "C", "h", "H"}


def test_compare_two_photographs(run: Run, demo_truth: dict[str, Any]) -> None:
    first, second = (
        demo_truth["separate-original.jpg"]["areas"],
        demo_truth["separate-repair.jpg"]["areas"],
    )
    box = {name: ",".join(map(str, area["box"])) for name, area in {**second, **first}.items()}
    ran = run(
        "compare", swatch_path("demo", "separate-original.jpg"),
        swatch_path("demo", "separate-repair.jpg"), "--card", box["card"],
        "--card2", ",".join(map(str, second["card"]["box"])),
        "--original", box["original"], "--repair", box["repair"], "--json",
    )  # fmt: skip
    true = float(delta_e_2000(first["original"]["lab"], second["repair"]["lab"]))
    assert abs(ran.json["delta_e_2000"] - true) < 0.5


def test_a_wider_tolerance_changes_the_verdict(run: Run, boxes: dict[str, str]) -> None:
    areas = [part for name, box in boxes.items() for part in (f"--{name}", box)]
    assert run("compare", SCENE, *areas, "--tolerance", 12, "--json").json["verdict"] == "match"
    words = run("compare", SCENE, *areas).out
    assert "no match" in words
    assert "95 % interval" in words


def test_a_reading_stands_with_its_95_per_cent_interval_and_no_other(
    run: Run, boxes: dict[str, str]
) -> None:
    areas = ("read", SCENE, "--card", boxes["card"], "--area", f"old={boxes['original']}")
    told, area = run(*areas).out, run(*areas, "--json").json["areas"]["old"]
    # Expanded uncertainty: the standard one times the normal quantile, JCGM 100:2008, 6.2 and G.1.
    half = norm.ppf(0.975) * np.sqrt(np.diag(area["covariance"]))
    assert area["expanded_uncertainty_95"] == pytest.approx(half, rel=1e-3)
    values = zip(("L*", "a*", "b*"), area["lab"], half, strict=True)
    assert ", ".join(f"{name} {v:.1f} ± {h:.1f}" for name, v, h in values) in told
    assert "within ± 19 times of 20" in told
    assert "standard uncertainty" not in told


def test_a_shape_by_its_corners_leaves_out_the_dark_carving_beside_it(
    run: Run, tmp_path: Path
) -> None:
    light = painted_light({(20, 20, 80, 80): GREY, (140, 40, 100, 100): OLD_LAB}, (280, 160))
    y, x = np.mgrid[:160, :280]
    light[(x - 140 < (140 - y) / 2) & (light.sum(axis=-1) > 0) & (x >= 140)] = lab_to_light(
        np.array([30.0, 4.0, 12.0])
    )
    picture = saved(0.9 * light, tmp_path / "carved.png", noise=0.01)
    areas = ("read", picture, "--card", "25,25,70,70", "--json", "--area")
    told = [
        run(*areas, f"old={place}").json
        for place in ("192,42 238,42 238,138 144,138", "140,40,100,100")
    ]
    assert float(delta_e_2000(told[0]["areas"]["old"]["lab"], OLD_LAB)) < 0.3
    assert told[1]["areas"]["old"]["lab"][0] < OLD_LAB[0] - 5  # a quarter of it is carving
    assert ["two parts" in " ".join(one["warnings"]) for one in told] == [False, True]
    # Half the side above and the whole below, less the 2 or 4 pixels to the sides: by hand.
    assert told[0]["areas"]["old"]["pixels"] == pytest.approx((46 + 94) / 2 * 96, abs=60)
    refused(run(*areas, "old=192,42 238,138 238,42 144,138"), "cross")
    refused(run(*areas, "old=192,42 238,138"), "or corners, such as")


def test_cards_that_are_not_typed_are_found_said_and_read_as_if_they_were_typed(
    run: Run,
) -> None:
    golds = ("--original", GOOD["original"], "--repair", GOOD["repair"])
    found = run("compare", SCENE, *golds, "--json").json
    typed = re.findall(r"--(card|white|black) (\d+,\d+,\d+,\d+)", found["warnings"][0])
    assert [name for name, _ in typed] == ["card", "white", "black"]
    assert found["warnings"][0].endswith("mark them where something else is meant.")
    options = [part for name, box in typed for part in (f"--{name}", box)]
    again = run("compare", SCENE, *golds, *options, "--json").json
    assert again["warnings"] == found["warnings"][1:]
    assert again["delta_e_2000"] == found["delta_e_2000"]
    beside = ("--neutral", f"{dict(typed)['white']}=0.9")
    words = run("read", SCENE, "--area", f"old={GOOD['original']}", *beside).out
    assert re.findall(r"--(card|white|black) \d", words) == ["card"]
    both = [swatch_path("demo", f"separate-{role}.jpg") for role in ("original", "repair")]
    words = run("compare", *both, *golds, "--card2", "588,660,172,108").out
    assert words.count("in separate-original.jpg (--card 888,660,172,108") == 1
    assert "in separate-repair.jpg (" not in words
    words = run("compare", *both, *golds).out
    assert "in separate-repair.jpg (--card2 588,660,172,108 --white2 " in words


def test_where_no_card_is_found_or_two_it_must_be_typed(run: Run, tmp_path: Path) -> None:
    area = ("--area", "old=140,40,60,60")
    clipped = swatch_path("demo", "overexposed.jpg")
    words = (
        "overexposed.jpg is overexposed (73 % of it is clipped), and no grey card is found in it"
    )
    refused(run("read", clipped, *area), words)
    fields = {(20, 20, 60, 60): GREY, (140, 40, 100, 100): OLD_LAB, (20, 140, 60, 60): (55.0, 1, 0)}
    light = painted_light(fields, (280, 220))
    light[light.sum(axis=-1) == 0] = lab_to_light(np.array([30.0, 12.0, 20.0]))
    picture = saved(light, tmp_path / "two.png", noise=0.01)
    refused(run("read", picture, *area), "may be the grey card, at 2")
    light[140:200, 20:80], light[160:215, 100:170] = 0.04, 1.2
    overexposed = saved(light, tmp_path / "white.png", noise=0.01)
    assert "The grey and black cards were found in white" in run("read", overexposed, *area).out
    chart = chart_picture(tmp_path / "chart.png")
    words = run("read", chart, "--area", f"old={OLD}").out
    assert "The grey card was found in chart.png" in words
    chart_too = (
        "A 24-patch chart is in chart.png, too: --chart uses it. Near a match it leaves less "
        "than half the doubt of the grey card alone."
    )
    assert chart_too in words
    by_hand = ("read", chart, "--area", f"old={OLD}", "--card", CARD)
    assert chart_too in run(*by_hand).out
    assert chart_too not in run(*by_hand, "--chart").out


def test_card_value_moves_the_reading(run: Run, boxes: dict[str, str]) -> None:
    areas = ("--card", boxes["card"], "--area", f"old={boxes['original']}", "--json")
    usual = run("read", SCENE, *areas).json["areas"]["old"]["lab"]
    same = run("read", SCENE, *areas, "--card-lab", "49.496,0,0").json["areas"]["old"]["lab"]
    darker = run("read", SCENE, *areas, "--card-reflectance", 0.12).json["areas"]["old"]["lab"]
    # L* of a neutral of reflectance 0.18 is 49.496 (ISO/CIE 11664-4, by hand: 116 cbrt(.18) - 16).
    np.testing.assert_allclose(same, usual, atol=0.01)
    assert darker[0] < usual[0] - 5


GOOD = {"card": "714,664,182,102", "original": "400,400,280,190", "repair": "960,400,280,190"}


_OPTIONS = [part for name, value in GOOD.items() for part in (f"--{name}", value)]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"repair": "1500,400,280,190"}, "outside the picture"),
        ({"repair": "500,400,280,190"}, "overlap"),
        ({"repair": "720,670,60,60"}, "overlap"),
        ({"repair": "960,400,2,2"}, "4 pixels only"),
        ({"card": "714,664,182"}, "is not a box"),
        ({"card": "714,664,182,nan"}, "is not a box"),
        ({"card": "714,664,0,10"}, "has no size"),
        ({"card": "60,1,2,18"}, "too narrow to tell whether light falls evenly"),
        ({"card-width": "1e-320"}, "give millimetres above 0, from 1 to 2000"),
        ({"tolerance": "nan"}, "tolerance of nan"),
        ({"tolerance": "0"}, "tolerance of 0"),
        ({"tolerance": "-1"}, "tolerance of -1"),
        ({"tolerance": "inf"}, "tolerance of inf"),
        ({"tolerance": "two"}, "--tolerance"),
        ({"card-reflectance": "0"}, "reflectance of 0"),
        ({"card-reflectance": "18"}, "reflectance of 18"),
        ({"card-lab": "50,0"}, "three numbers"),
        ({"card-lab": "50,60,0"}, "not that of a grey card"),
        ({"card2": "1,1,9,9"}, "second photograph"),
        ({"neutral": "1,1,9,9"}, "--neutral 1,1,9,9: give x,y,w,h=REFLECTANCE"),
        ({"neutral": "1,1,9=0.9"}, "is not a box"),
        ({"encoding": "log"}, "--encoding 'log' is not one of 'profile', 'linear'"),
    ],
)
def test_bad_numbers_are_one_sentence(run: Run, change: dict[str, str], words: str) -> None:
    options = [part for name, value in {**GOOD, **change}.items() for part in (f"--{name}", value)]
    refused(run("compare", SCENE, *options, "--json"), words)


def test_bad_files_are_one_sentence(run: Run, tmp_path: Path) -> None:
    text = tmp_path / "text.jpg"
    text.write_text("no picture")
    short = tmp_path / "short.jpg"
    short.write_bytes(SCENE.read_bytes()[:50_000])
    for path, words in (
        (tmp_path / "none.jpg", "no file"),
        (text, "not a picture"),
        (short, "cut short"),
        (tmp_path, "is a folder"),
        (swatch_path("demo", "overexposed.jpg"), "overexposed"),
    ):
        refused(run("compare", path, *_OPTIONS), words)


def test_an_unknown_command_is_one_sentence(run: Run) -> None:
    refused(run("gild"), "No such command 'gild': see 'tonematch --help'.")
    refused(run("strips", "chose"), "(did you mean 'choose'?): see 'tonematch strips --help'.")
    refused(run("compare"), "PHOTO is missing: see 'tonematch compare --help'.")
    refused(run("compare", SCENE), "--original is missing: see 'tonematch compare --help'.")
    refused(run("compare", SCENE, "--cord", "1,1,9,9"), "(did you mean --card?)")
    refused(run("compare", SCENE, "--hammer", "1"), "There is no option --hammer: see")
    refused(run("trials", "list", "--json"), "There is no option --json: see")


@pytest.mark.parametrize(
    ("command", "option", "wanted"),
    [
        (("compare", SCENE, *_OPTIONS), "--tolerance", "a number"),
        (("compare", SCENE, *_OPTIONS), "--card-width", "a number"),
        (("read", SCENE, "--card", "1,1,9,9"), "--card-reflectance", "a number"),
        (("pieces", "add", "mirror"), "--seen-from", "a number"),
        (("suggest", "--from", "88,6,35", "--to", "79,9,33"), "--layers", "a whole number"),
        (("strips", "choose", "mirror", "--out", "s.html"), "--number", "a whole number"),
        (("trials", "put-right", "1"), "--coats", "a whole number"),
    ],
)
@pytest.mark.parametrize("typed", ["abc", "2,5", ""])
def test_what_is_no_number_is_said_in_our_words(
    run: Run, command: tuple[str, ...], option: str, wanted: str, typed: str
) -> None:
    ran = run(*command, option, typed)
    meant = typed == "2,5" and wanted == "a number"
    told = "write 2.5, with a point" if meant else f"give {wanted}, such as"
    refused(ran, f"{option} {typed or repr('')}: {told}")
    assert f"see 'tonematch {command[0]}" in ran.err
    assert "valid" not in ran.err


def test_what_lacks_its_value_or_is_past_its_bounds_is_said_in_our_words(run: Run) -> None:
    refused(run("bench", "--port", "99999"), "--port 99999: give 65535 or less: see 'tonematch ben")
    refused(run("demo", "twice", "over"), "twice over is more than this command takes: see 'tonem")
    refused(run("trials", "list", "--count", "0"), "--count 0: give 1 or more: see 'tonematch tri")
    refused(
        run("compare", SCENE, "--white"), "--white needs a value behind it: see 'tonematch compare"
    )


@pytest.mark.parametrize("command", [(), ("pieces",), ("trials",), ("logbook",)])
def test_commands_are_listed_by_whole_sentences(run: Run, command: tuple[str, ...]) -> None:
    assert "..." not in run(*command, "--help").out.partition("Commands:")[2]


def test_no_option_is_told_by_the_name_of_a_type(run: Run) -> None:
    for command in (("predict",), ("recipes", "add"), ("pieces", "add"), ("heading",), ("bench",)):
        assert not re.search(r"<list\[|range>", run(*command, "--help").out), command


def test_a_command_with_others_below_it_tells_them(run: Run) -> None:
    for command, below in (((), "compare"), (("trials",), "put-right"), (("shelf",), "rename")):
        ran = run(*command)
        assert ran.status == 0
        assert below in ran.out
        assert len(ran.out.splitlines()) > 5
