"""Tests that the demo's files have the defects that the table in demo/defects.py lists."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pytest

from inspector.demo import demo_files
from inspector.demo.defects import DEFECTS, Defect
from inspector.demo.obj_text import obj_text
from inspector.demo.swim import FRAMES, swim

FILES = {name.removeprefix("manta_broken/"): data for name, data in demo_files().items() if "manta_broken/" in name}
CLEAN = {frame: obj_text(swim(frame, "manta_broken")) for frame in FRAMES}
Groups = dict[str, list[str]]


def file(frame: int) -> str:
    return f"manta_broken.{frame:04}.obj"


def groups(text: bytes) -> Groups:
    found: Groups = {}
    for line in text.decode("ascii").splitlines():
        keyword, _, rest = line.partition(" ")
        found.setdefault(keyword, []).append(rest)
    return found


def corner_columns(found: Groups) -> np.ndarray:
    return np.array([[[int(i or 0) for i in corner.split("/")] for corner in face.split()] for face in found["f"]])


def values(rows: list[str]) -> np.ndarray:
    return np.array([row.split() for row in rows], float)


def moved(is_: Groups, was: Groups) -> np.ndarray:
    return values(is_["v"]) - values(was["v"])


def at_corners(found: Groups) -> np.ndarray:
    return values(found["vt"])[corner_columns(found)[..., 1] - 1]


def sharing(found: Groups) -> np.ndarray:
    """Return, for each corner, the number of the first corner with the same UV index."""
    _, first, number = np.unique(corner_columns(found)[..., 1], return_index=True, return_inverse=True)
    return first[number.ravel()]


def vt_changed(is_: Groups, was: Groups) -> np.ndarray:
    now, before = corner_columns(is_), corner_columns(was)
    assert np.array_equal(now[..., [0, 2]], before[..., [0, 2]])
    return now[..., 1] - before[..., 1]


def no_uvs(is_: Groups, was: Groups) -> bool:
    return "vt" not in is_ and all(face.count("//") == 4 for face in is_["f"])


def partial_uvs(is_: Groups, was: Groups) -> bool:
    return Counter(face.count("//") for face in is_["f"]) == {0: 558, 4: 40}


def one_uv_beyond(is_: Groups, was: Groups) -> bool:
    return np.count_nonzero(vt_changed(is_, was)) == 1 and corner_columns(is_)[..., 1].max() > len(is_["vt"])


def one_vertex_beyond(is_: Groups, was: Groups) -> bool:
    now, before = corner_columns(is_), corner_columns(was)
    return np.count_nonzero(now != before) == 1 and now[..., 0].max() > len(is_["v"])


def bad_number(is_: Groups, was: Groups) -> bool:
    odd = [new for new, old in zip(is_["v"], was["v"], strict=True) if new != old]
    return len(odd) == 1 and odd[0].split()[1] == "1.#QNAN"


def shifted(is_: Groups, was: Groups) -> bool:
    in_range = corner_columns(is_)[..., 1].max() <= len(is_["vt"])
    return in_range and (vt_changed(is_, was) == 4).all() and is_["vt"][:670] == was["vt"]


def reassigned(is_: Groups, was: Groups) -> bool:
    same_seams = np.array_equal(sharing(is_), sharing(was))
    return same_seams and len(np.unique(vt_changed(is_, was))) > 2 and not np.allclose(at_corners(is_), at_corners(was))


def other_seams(is_: Groups, was: Groups) -> bool:
    differ = not np.array_equal(sharing(is_), sharing(was)) and not np.allclose(at_corners(is_), at_corners(was))
    return differ and len(is_["vt"]) == len(was["vt"])


def renumbered(is_: Groups, was: Groups) -> bool:
    return np.array_equal(at_corners(is_), at_corners(was)) and vt_changed(is_, was).all()


def aside(is_: Groups, was: Groups) -> bool:
    return np.allclose(moved(is_, was), [2, 0, 0], atol=2e-6)


def larger(is_: Groups, was: Groups) -> bool:
    new, old = values(is_["v"]), values(was["v"])
    same_middle = np.allclose(new.min(0) + new.max(0), old.min(0) + old.max(0), atol=4e-6)
    return same_middle and np.allclose(np.ptp(new, axis=0), 1.5 * np.ptp(old, axis=0), atol=4e-6)


def uv_values(is_: Groups, was: Groups) -> bool:
    by = values(is_["vt"]) - values(was["vt"])
    inside = values(is_["vt"]).min() > 0 and values(is_["vt"]).max() < 1
    return inside and np.allclose(by[300:600], [-0.25 / 12, 0], atol=2e-6) and not by[:300].any() and not by[600:].any()


def divided_otherwise(is_: Groups, was: Groups) -> bool:
    now, before = corner_columns(is_), corner_columns(was)
    odd = np.flatnonzero((now != before).any(axis=(1, 2)))
    pairs = {tuple(corner) for corner in before.reshape(-1, 3)}
    one_area = set(now[odd, :, 0].ravel()) == set(before[odd, :, 0].ravel())
    return len(odd) == 2 and one_area and {tuple(corner) for corner in now.reshape(-1, 3)} == pairs


def face_lost(is_: Groups, was: Groups) -> bool:
    return len(is_["f"]) == 597 and Counter(was["f"]) - Counter(is_["f"]) == Counter([was["f"][180]])


def stray(is_: Groups, was: Groups) -> bool:
    return is_["v"][:-1] == was["v"] and len(is_["v"]) == 601


def frozen(is_: Groups, was: Groups) -> bool:
    """Return whether the frame repeats frame 9 and is about twice as far from frame 11 as the healthy frame is."""
    before, after = groups(CLEAN[9]), groups(FILES[file(11)])
    long = np.linalg.norm(moved(after, is_)) / np.linalg.norm(moved(after, was))
    return is_["v"] == before["v"] and is_["vn"] == before["vn"] and 1.8 < long < 2.2


def library_gone(is_: Groups, was: Groups) -> bool:
    return is_["mtllib"][0].lower() not in [name.lower() for name in FILES]


def map_misspelt(is_: Groups, was: Groups) -> bool:
    place = groups(FILES[is_["mtllib"][0]])["map_Kd"][0]
    return place not in FILES and place.replace("\\", "/").lower() in FILES


def material_unknown(is_: Groups, was: Groups) -> bool:
    return is_["usemtl"] != was["usemtl"] and is_["usemtl"] != groups(FILES["manta_broken.mtl"])["newmtl"]


# By frame: the keywords whose lines differ from the healthy frame's, and a function that checks the difference.
PLANTED: dict[int, tuple[set[str], Callable[[Groups, Groups], bool]]] = {
    3: ({"vt", "f"}, no_uvs), 4: ({"v"}, bad_number), 5: ({"f"}, partial_uvs), 6: ({"f"}, one_uv_beyond),
    8: ({"vt", "f"}, shifted), 9: ({"f"}, reassigned), 10: ({"v", "vn"}, frozen), 11: ({"vt", "f"}, other_seams),
    12: ({"vt", "f"}, renumbered), 13: ({"v"}, aside), 14: ({"vt"}, uv_values), 15: ({"mtllib"}, library_gone),
    16: ({"v"}, larger), 17: ({"mtllib"}, map_misspelt), 18: ({"usemtl"}, material_unknown),
    20: ({"f"}, divided_otherwise), 21: ({"f"}, face_lost), 22: ({"f"}, one_vertex_beyond), 23: ({"v"}, stray),
}  # fmt: skip
OF_THE_FILE = {7, 19, 24}


@pytest.mark.parametrize("frame", PLANTED)
def test_the_frame_differs_in_its_defect_alone(frame: int) -> None:
    keywords, is_planted = PLANTED[frame]
    now, before = groups(FILES[file(frame)]), groups(CLEAN[frame])
    assert {keyword for keyword in now.keys() | before.keys() if now.get(keyword) != before.get(keyword)} == keywords
    assert is_planted(now, before)


def test_the_cut_off_file_is_half_and_ends_amid_a_number() -> None:
    text = FILES[file(7)]
    assert CLEAN[7].startswith(text)
    assert 0.4 < len(text) / len(CLEAN[7]) < 0.6
    assert CLEAN[7][len(text) - 1 : len(text) + 1].isdigit()
    assert len(text.split(b"\n")[-1].split()) < 4


def test_one_file_is_left_out_and_one_is_there_twice() -> None:
    assert file(19) not in FILES
    assert FILES["manta_broken.24.obj"] == FILES[file(24)] == CLEAN[24]
    numbered = {name for name in FILES if name.endswith(".obj")}
    assert numbered == {file(frame) for frame in FRAMES if frame != 19} | {"manta_broken.24.obj"}


def test_the_table_names_each_spoilt_frame_once_and_no_healthy_one() -> None:
    in_table = Counter(frame for defect in DEFECTS for frame in defect.frames)
    assert in_table == Counter(PLANTED.keys() | OF_THE_FILE)
    healthy = [frame for frame in FRAMES if frame not in in_table]
    assert healthy == [1, 2]
    assert all(FILES[file(frame)] == CLEAN[frame] for frame in healthy)


@pytest.mark.parametrize("defect", DEFECTS, ids=lambda defect: defect.name)
def test_a_companion_has_a_reason(defect: Defect) -> None:
    assert bool(defect.companions) == bool(defect.reason)
    assert defect.check not in defect.companions


def test_wrong_shapes_and_places_have_two_sound_frames_on_either_side() -> None:
    wrong = {"unreadable", "bad-number", "missing-frames", "frozen", "centre-jump", "size-jump"}
    frames = [frame for defect in DEFECTS if defect.check in wrong for frame in defect.frames]
    assert len(frames) == 6
    for frame in frames:
        for other in (frame - 2, frame - 1, frame + 1, frame + 2):
            assert groups(FILES[file(other)])["v"] == groups(CLEAN[other])["v"]


def test_healthy_faces_are_the_largest_group() -> None:
    vertices_of_faces = Counter(
        tuple(corner_columns(groups(text))[..., 0].ravel())
        for name, text in FILES.items()
        if name.endswith(".obj") and name != file(7)
    )
    healthy = tuple(corner_columns(groups(CLEAN[1]))[..., 0].ravel())
    assert vertices_of_faces.most_common(1) == [(healthy, 20)]
