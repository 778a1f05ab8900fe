"""Tests of the HTML page, parsed by html5lib as strictly as the HTML standard allows."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
import re
from collections import Counter
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.inspection.inspection import inspect_folder
from inspector.lettering.sequence_fit import thinned
from inspector.report.html import plots
from inspector.report.html.gather import ReportPage, gather
from inspector.report.html.page import html_text
from inspector.report.html.receipt import existing_receipt
from inspector.sequence.discovery.settings import Settings
from tests.helpers.command import assert_one_sentence, digests, harmful, meshqc
from tests.helpers.hostile.evil_shots import HOSTILE, hostile
from tests.helpers.pages import classed, exact, frame_rows, parsed, words
from tests.helpers.sequences import along_x, shot, write

__all__ = ["hostile"]

KELP = ("--frames", "1-15", "--size", "1.8")


@cache
@cache  # the folders of these tests don't change
def told(folder: Path, *words: str) -> str:
    run = meshqc("check", folder, "--format", "html", *words)
    assert run.stderr == ""
    return run.stdout


def made(folder: Path) -> str:
    return html_text(gather(inspect_folder(folder), lambda *_: None))


def test_the_page_loads_nothing_and_every_link_leads_somewhere(demo: Path) -> None:
    page = parsed(told(demo))
    ids = Counter(one.attrib["id"] for one in page.iter() if "id" in one.attrib)
    assert set(ids.values()) == {1}
    links = [one.attrib["href"] for one in page.iter("a")]
    assert len(links) > 100
    assert [link for link in links if not link.startswith("#") or link[1:] not in ids] == []
    sources = [one.attrib["src"] for one in page.iter() if "src" in one.attrib]
    assert {source.partition(",")[0] for source in sources} == {"data:image/png;base64"}
    assert list(page.iter("link")) == list(page.iter("iframe")) == []
    named = [one.attrib[name] for one in page.iter() for name in one.attrib if name.startswith("aria-labelledby")]
    assert [name for entry in named for name in entry.split() if name not in ids] == []


def test_the_policy_allows_our_own_style_and_script_alone(demo: Path) -> None:
    """The policy contains the hashes of the text inside `<style>` and inside `<script>`. Source: Content Security
    Policy Level 3, W3C."""
    page = parsed(told(demo / "manta"))
    (policy,) = (one.attrib["content"] for one in page.iter("meta") if one.get("http-equiv"))
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    for tag in ("script", "style"):
        (own,) = page.iter(tag)
        digest = base64.b64encode(hashlib.sha256((own.text or "").encode()).digest()).decode()
        assert rules[f"{tag}-src"] == f"'sha256-{digest}'"
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert rules["img-src"] == "data:"
    assert [name for one in page.iter() for name in one.attrib if name == "style" or name.startswith("on")] == []


def test_the_same_folder_gives_the_same_page(demo: Path) -> None:
    assert meshqc("check", demo / "manta", "--format", "html").stdout == told(demo / "manta")


def test_findings_with_place_and_rationale(demo: Path) -> None:
    page = parsed(told(demo / "manta_broken"))
    findings = {words(one.find("h4")): words(one) for one in classed(page, "finding")}
    mismatch = findings["E error: UV index mismatch, frame 8 uv-mismatch"]
    for said in (
        "every UV index is off by +4",
        "manta_broken.0008.obj:1882",
        "you would see",
        "uv-shift-back (lossless)",
    ):
        assert said in mismatch
    letters = [words(one) for overview in classed(page, "overview") for one in overview]
    assert letters[:3] == [".", ".", "E"]
    assert len(letters) == 25


def test_every_part_is_there_whatever_is_in_it(demo: Path) -> None:
    good, broken = (parsed(told(demo / name)) for name in ("manta", "manta_broken"))
    for page in (good, broken):
        titles = [words(one) for one in page.iter("h3")][:5]
        assert titles == ["Findings", "Frame by frame", "Contact sheet", "Texture and lettering", "Skipped checks"]
    assert "Findings nothing found" in words(good)
    mismatches = [words(one) for one in classed(broken, "finding") if "UV index mismatch" in words(one.find("h4"))]
    assert ["see above" in one for one in mismatches] == [False] + [True] * (len(mismatches) - 1)
    assert len(mismatches) > 1


def test_long_sequences_have_a_letter_for_each_piece(tmp_path: Path) -> None:
    page = parsed(made(write(tmp_path, along_x(range(100)))))
    (overview,) = classed(page, "overview")
    assert len(overview) == 48
    assert len(frame_rows(page)) == 100


def test_plots_go_through_every_value(tmp_path: Path) -> None:
    text = made(write(tmp_path, along_x([0.0, 1.0, 2.0, 4.0])))
    page = parsed(text)
    drift = next(figure for figure in classed(page, "plot") if "drift" in words(figure))
    (line,) = classed(drift, "line")
    points = [tuple(map(float, pair.split())) for pair in line.attrib["d"].strip("MZ").split("L")]
    there, back = points[:4], points[4:]
    assert there == back[::-1]
    rows = frame_rows(page)
    x = [float(row.attrib["data-x"]) for row in page.iter("tr") if "data-x" in row.attrib]
    assert [across for across, _ in there] == pytest.approx(x)
    assert x[1] - x[0] == pytest.approx(x[3] - x[2])
    down = [height for _, height in there]
    values = [exact(cells[2]) for cells in rows]
    assert values == pytest.approx([0.0, values[1], 2 * values[1], 4 * values[1]])
    share = [(down[0] - height) / (down[0] - down[3]) for height in down]
    assert share == pytest.approx([0.0, 0.25, 0.5, 1.0], abs=0.01)
    assert f"highest {words(rows[3][2])} in frame 4" in words(drift)


def test_a_missing_frame_is_a_gap_and_has_a_row(tmp_path: Path) -> None:
    page = parsed(made(write(tmp_path, shot(numbers=[1, 2, 3, 5, 6]))))
    rows = frame_rows(page)
    assert [words(cells[0]) for cells in rows] == ["1", "2", "3", "4", "5", "6"]
    assert words(rows[3][1]) == "no file"
    assert "Missing frames" in words(rows[3][-1])
    drift = next(figure for figure in classed(page, "plot") if "drift" in words(figure))
    assert next(classed(drift, "line")).attrib["d"].count("M") == 2


def test_pictures_are_small_and_few(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspector.report.html.gather.PAGE_PICTURES", 3)
    for name in ("a", "b"):
        write(tmp_path / name, shot())
    page = parsed(made(tmp_path))
    sheets = [one for sheet in classed(page, "sheet") for one in sheet.iter("img")]
    pictures = [one.attrib["src"].partition(",")[2] for one in sheets]
    assert len(pictures) == 2
    for picture in pictures:
        with Image.open(io.BytesIO(base64.b64decode(picture))) as image:
            assert image.size == (320, 180)
            assert len(set(image.convert("L").get_flattened_data())) > 10
    assert all(one.attrib["alt"] for one in page.iter("img"))


def image_of(figure) -> np.ndarray:
    (element,) = figure.iter("img")
    data = base64.b64decode(element.attrib["src"].partition(",")[2])
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def test_a_supervisor_sees_pass_or_fail_range_rate_and_duration(demo: Path) -> None:
    good, broken = (parsed(told(demo / name)) for name in ("manta", "manta_broken"))
    (line,) = next(classed(good, "cards")).iter("tbody")
    assert words(line) == "manta.####.obj PASS 24 files, frames 1-24 not stated 1.00 s at 24 fps nothing found"
    assert words(next(classed(good, "verdict"))).startswith("PASS verdict: clean")
    assert words(next(classed(broken, "verdict"))).startswith("E FAIL verdict: 15 errors")
    stated = html_text(ReportPage(inspect_folder(demo / "manta", Settings(rate=Fraction(25))), ()))
    assert "stated 25 fps" in words(parsed(stated))


def test_fixes_are_seen_before_and_after(demo: Path) -> None:
    """Frame 3 of the broken manta has no UVs. It is drawn with grey stripes before the fix, and with its colour map
    after it."""
    page = parsed(told(demo / "manta_broken"))
    step = next(one for steps in classed(page, "steps") for one in steps if "uv-restore" in words(one))
    before, after = (image_of(figure) for figure in next(classed(step, "pair")))
    assert np.ptp(before[60:120, 120:200], axis=2).max() <= 8
    assert np.ptp(after[60:120, 120:200], axis=2).max() > 60


def test_a_step_in_place_is_seen_in_one_view(demo: Path) -> None:
    page = parsed(told(demo / "manta_broken"))
    step = next(one for steps in classed(page, "steps") for one in steps if "align-outlier" in words(one))
    before, after = (image_of(figure) for figure in next(classed(step, "pair")))
    places = [np.argwhere(np.ptp(image, axis=2) > 40).mean(axis=0) for image in (before, after)]
    assert np.abs(places[0] - places[1]).max() > 10


def test_captions_of_all_versions_and_the_textures_are_on_the_page(demo: Path) -> None:
    page = parsed(told(demo / "buoy"))
    strips = list(classed(page, "strip"))
    for strip in strips:  # the versions are for frames 1 to 8
        assert [words(figure) for figure in strip.iter("figure")] == [f"frame {number}" for number in (1, 3, 5, 6, 8)]
    sheet = image_of(next(next(classed(page, "sheet")).iter("figure")))
    bare = (sheet.min(axis=2) > 130) & (np.ptp(sheet, axis=2) < 12)
    assert bare.mean() > 0.05  # seen from the side of its label, which is the only white part
    assert "el: ΕΝΥΔΡΕΙΟ | ΛΙΜΑΝΙΟΥ" in words(page)
    assert "unreadable in all of the required frames 1-8" in words(page)
    english, german = (image_of(next(strip.iter("figure"))) for strip in strips[:2])
    assert np.abs(english - german).max() > 100
    table = next(one for one in classed(page, "maps") if "buoy_label" in words(one))
    assert "textures/buoy_label.png (map_Kd) 480 x 200 2.4 to 1" in words(table)
    thumbnail = image_of(next(table.iter("figure")))
    assert thumbnail.shape == (67, 160, 3)


def test_rounding_does_not_fill_a_plot(tmp_path: Path) -> None:
    page = parsed(made(write(tmp_path, along_x([0.0, 1e-6, 0.0, 1e-6]))))
    drift = next(figure for figure in classed(page, "plot") if "drift" in words(figure))
    (line,) = classed(drift, "line")
    heights = [float(pair.split()[1]) for pair in line.attrib["d"].strip("MZ").split("L")]
    assert max(heights) - min(heights) < 2
    assert "no value" not in words(page)


def test_a_long_sequence_is_fitted_on_frames_spread_evenly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (one,) = inspect_folder(write(tmp_path, shot(numbers=range(1, 31)))).inspections
    few = thinned(one.series, 4)
    assert [int(facts.number) for facts in few.facts] == [1, 15, 30]
    assert few.reference_facts is one.series.reference_facts
    monkeypatch.setattr("inspector.report.html.gather.PAGE_FACES", 1)
    assert "measured on 2 evenly spaced frames of 30" in words(parsed(made(tmp_path)))


def test_hostile_names_act_on_nothing(hostile: Path) -> None:
    text = told(hostile)
    assert text.isascii()
    page = parsed(text)
    shown = words(page)
    assert harmful(shown) == []
    assert "\\x1b" in shown
    assert b"\x1b" in HOSTILE


def test_markup_in_names_is_text(tmp_path: Path) -> None:
    tricks = ["<img src=x onerror=alert(1)>", "'\"><b onclick=x>", "&lt;i&gt;&#x3c;i>", "]]><!--", "javascript:1"]
    for at, trick in enumerate(tricks):
        files = {f"{trick}{name}" if name.endswith(".obj") else name: data for name, data in shot().items()}
        files = {
            name: data.replace(b"usemtl skin", b"usemtl </script></style></title><script>alert(1)</script>")
            .replace(b"mtllib manta.mtl", b"mtllib </td></table><svg/onload=x>.mtl manta.mtl")
            .replace(b"g wing", b"g --></textarea>")
            for name, data in files.items()
        }
        write(tmp_path / str(at), {name.replace("/", ""): data for name, data in files.items()})
    page = parsed(made(tmp_path))
    assert len(list(page.iter("script"))) == len(list(page.iter("style"))) == 1
    assert {one.tag for one in page.iter() if isinstance(one.tag, str)} & {"b", "i", "textarea", "iframe"} == set()
    assert [one for one in page.iter("img") if not one.attrib["src"].startswith("data:image/png;base64,")] == []
    assert [name for one in page.iter() for name in one.attrib if name.startswith("on")] == []
    shown = words(page)
    for trick in [*tricks, "</script></style></title><script>alert(1)</script>", "</td></table><svg/onload=x>.mtl"]:
        assert trick in shown


def test_undecodable_names_give_a_page(tmp_path: Path) -> None:
    folder = os.fsencode(tmp_path / "in")
    Path(os.fsdecode(folder)).mkdir()
    for name, data in shot().items():
        Path(os.fsdecode(folder + b"/\xff\xfe" + name.encode())).write_bytes(data)
    assert "\\xff\\xfemanta.0001.obj" in words(parsed(made(tmp_path)))


def test_a_folder_without_sequences(tmp_path: Path) -> None:
    run = meshqc("check", tmp_path, "--format", "html")
    assert run.returncode == 2
    assert "no sequence of numbered mesh files here" in words(parsed(run.stdout))


def test_report_is_written_beside_the_verdict(demo: Path, tmp_path: Path) -> None:
    page = tmp_path / "kelp.html"
    before = digests(demo)
    run = meshqc("check", demo / "kelp_broken", *KELP, "--report", page)
    assert run.stdout == meshqc("check", demo / "kelp_broken", *KELP).stdout
    assert page.read_text("ascii") == told(demo / "kelp_broken", *KELP)
    again = meshqc("check", demo / "kelp_broken", "--report", page)
    assert again.returncode == 2
    assert_one_sentence(again.stderr)
    assert "already exists" in again.stderr
    for place, said in ((demo / "kelp_broken/page.html", "never written to"), (tmp_path / "page.txt", "--report")):
        refused = meshqc("check", demo / "kelp_broken", "--report", place)
        assert refused.returncode == 2
        assert said in refused.stderr
    assert digests(demo) == before


def test_fixes_done_and_the_receipt(demo: Path, tmp_path: Path) -> None:
    page, out = tmp_path / "kelp.html", tmp_path / "out"
    words_of_fix = [
        "--uvs-from",
        demo / "kelp_broken/kelp_rest.obj",
        "--all",
        "--invent-at-most",
        "3",
        "--output",
        out,
        "--report",
        page,
    ]
    assert meshqc("fix", demo / "kelp_broken", *KELP, *words_of_fix).returncode == 0
    assert meshqc("verify", out).returncode == 0
    document = parsed(page.read_text("ascii"))
    shown = words(document)
    receipt = json.loads((out / "meshqc-receipt.json").read_text())
    for fix in receipt["fixes"]:
        assert f"{fix['title']} ({fix['kind']}): {fix['summary']}" in shown
    for file in receipt["files"]:
        assert file["after"] in shown
    table = next(one for one in document.iter("table") if words(one).startswith("findings before after"))
    assert words(table) == "findings before after errors 5 0 warnings 0 0 notes 0 2"
    assert "running the plan again would change nothing" in shown
    standing = parsed(made(out))
    assert f"source {demo / 'kelp_broken'}" in words(standing)


def test_planned_fixes_with_values_before_and_after(demo: Path) -> None:
    page = parsed(told(demo / "kelp_broken", *KELP))
    steps = [words(step) for steps in classed(page, "steps") for step in steps]
    scale = next(step for step in steps if "scale (one constant)" in step)
    assert re.search(r"frame 1, vertex 1 -1\.927116 0 -1\.2 -0\.01927116 0 -0\.012", scale)


def test_a_scaled_frame_is_as_large_as_before_and_states_its_size(demo: Path) -> None:
    """The kelp is 180.81 units long in frame 1 and is scaled by 0.01. If both pictures had the same scale, the kelp
    would be only a hundredth as long in the second picture as in the first picture."""
    page = parsed(told(demo / "kelp_broken", *KELP))
    (step,) = [step for steps in classed(page, "steps") for step in steps if "scale (one constant)" in words(step)]
    before, after = (image.attrib["src"] for image in step.iter("img"))
    assert before == after
    captions = [words(caption) for caption in step.iter("figcaption")]
    assert captions == ["frame 1, before: longest side 180.8 units", "frame 1, after: longest side 1.808 units"]
    assert "Each picture has its own scale." in words(step)


@pytest.mark.parametrize("text", ["", "{}", "[1]", "nul", '{"files": 1}', '{"tool": {}, "files": [], "invented": []}'])
def test_a_receipt_that_is_none_of_ours_is_left_out(tmp_path: Path, text: str) -> None:
    (tmp_path / "meshqc-receipt.json").write_text(text)
    assert existing_receipt(tmp_path) is None


def test_a_spike_is_seen_where_frames_share_a_column(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plots, "MOST_COLUMNS", 8)
    page = parsed(made(write(tmp_path, along_x([50.0 if at == 37 else 0.0 for at in range(100)]))))
    drift = next(figure for figure in classed(page, "plot") if "drift" in words(figure))
    (line,) = classed(drift, "line")
    heights = [float(pair.split()[1]) for pair in line.attrib["d"].strip("MZ").split("L")]
    assert len(heights) == 16
    assert sorted(heights).count(min(heights)) == 1
    assert "in frame 38" in words(drift)
    assert len({row.attrib["data-x"] for row in page.iter("tr") if "data-x" in row.attrib}) == 8
