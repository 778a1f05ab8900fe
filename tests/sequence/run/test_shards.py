"""Tests of sequences that a render queue measures in parts. The verdict must be the same as if the sequence had not
been split."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from inspector.errors import MeshqcError
from inspector.inspection.inspection import check_folder, inspect_folder
from inspector.report.document import folder_document
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import measure_spans
from inspector.sequence.run.executors import InlineExecutor
from inspector.sequence.run.shards import QueuePart, merge_parts, part_document
from tests.helpers.gltf import scene, triangle


def write_parts(root: Path, out: Path, of: int) -> list[Path]:
    """Measure each of the `of` parts as a separate machine would, with only the folder as input. Write the parts to
    `out`, and return the paths of the written files."""
    paths = []
    for number in range(1, of + 1):
        sequences = discover(root).sequences
        part = QueuePart(number, of)
        arrivals = measure_spans(sequences, part.spans(sequences), FactsCache(None), InlineExecutor())
        rows = [(facts, sequences[sequence].files[index - 1] if index else None) for sequence, index, facts in arrivals]
        paths.append(out / f"part{number}.json")
        paths[-1].write_text(json.dumps(part_document(part, root, rows)))
    return paths


@pytest.mark.parametrize("of", [1, 3, 8, 30])
def test_merged_parts_give_the_verdict_of_the_whole(demo: Path, tmp_path: Path, of: int) -> None:
    paths = write_parts(demo, tmp_path, of)
    discovery = discover(demo)
    merged = check_folder(discovery, merge_parts(paths, demo, discovery.sequences), Settings())
    assert folder_document(merged) == folder_document(inspect_folder(demo))


def test_a_part_that_is_missing_is_named(demo: Path, tmp_path: Path) -> None:
    paths = write_parts(demo, tmp_path, 3)
    with pytest.raises(MeshqcError, match=r"buoy.####.obj: no part has the current version of frame 9"):
        merge_parts([paths[0], paths[2]], demo, discover(demo).sequences)


def test_a_frame_that_changed_since_is_named(demo: Path, tmp_path: Path) -> None:
    copy = tmp_path / "demo"
    shutil.copytree(demo, copy)
    paths = write_parts(copy, tmp_path, 2)
    with (copy / "manta" / "manta.0004.obj").open("ab") as file:
        file.write(b"# later\n")
    with pytest.raises(MeshqcError, match=r"manta.####.obj: no part has the current version of frame 4"):
        merge_parts(paths, copy, discover(copy).sequences)


def test_a_buffer_that_changed_since_is_named(tmp_path: Path) -> None:
    root = tmp_path / "in"
    root.mkdir()
    document, primitive = triangle()
    (root / "kelp.0001.gltf").write_bytes(document.json(scene([primitive]), "kelp.bin"))
    (root / "kelp.bin").write_bytes(document.buffer)
    paths = write_parts(root, tmp_path, 1)
    merge_parts(paths, root, discover(root).sequences)
    (root / "kelp.bin").write_bytes(document.buffer + b"\0")
    with pytest.raises(MeshqcError, match=r"kelp\.0001\.gltf: a file that this frame depends on has changed"):
        merge_parts(paths, root, discover(root).sequences)


@pytest.mark.parametrize(("key", "value"), [("vertices", "6"), ("readable", 1), ("problems", 5), ("box", {"x": 1})])
def test_a_part_with_facts_of_another_type_is_refused(demo: Path, tmp_path: Path, key: str, value: object) -> None:
    (path,) = write_parts(demo, tmp_path, 1)
    document = json.loads(path.read_text())
    for row in document["frames"]:
        row["facts"][key] = value
    path.write_text(json.dumps(document))
    with pytest.raises(MeshqcError, match="measurements in the part file are damaged"):
        merge_parts([path], demo, discover(demo).sequences)


def test_the_folder_may_stand_elsewhere_on_each_machine(demo: Path, tmp_path: Path) -> None:
    paths = write_parts(demo, tmp_path, 2)
    copy = tmp_path / "mounted"
    shutil.copytree(demo, copy)  # copytree uses copy2, which keeps the times
    assert len(merge_parts(paths, copy, discover(copy).sequences)) == 4


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"format": 1, "measurement": 0, "frames": []}'])
def test_what_is_no_part_is_named(demo: Path, tmp_path: Path, text: str) -> None:
    (tmp_path / "odd.json").write_text(text)
    with pytest.raises(MeshqcError, match=r"odd\.json: "):
        merge_parts([tmp_path / "odd.json"], demo, discover(demo).sequences)
