"""Tests of frames that arrive during the measurement. The expected facts are those that a scan measures."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.scan import scan
from inspector.sequence.run.watch import WATCH_SECONDS, watch
from tests.helpers.gltf import scene, triangle
from tests.helpers.watching import frame_text, looks_while, nothing


def test_a_frame_counts_when_it_stood_still_over_two_looks(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "manta.0001.obj"
    whole = frame_text(demo, 1)
    steps: list[Callable[[], object]] = [
        lambda: path.write_bytes(whole[:5000]),
        lambda: path.write_bytes(whole[:9000]),
        lambda: path.write_bytes(whole),
        nothing,
        nothing,
    ]
    looks = list(looks_while(tmp_path, steps))
    assert [[facts.number for facts in look.arrived] for look in looks] == [[], [], [], [], [1], []]
    assert [len(look.growing) for look in looks] == [0, 1, 1, 1, 0, 0]
    assert looks[4].arrived[0].vertices == 600


def test_a_buffer_that_is_written_late_or_again_is_read(tmp_path: Path) -> None:
    document, primitive = triangle()
    buffer = tmp_path / "kelp.bin"
    wide = document.buffer.replace(b"\0\0\x80?", b"\0\0\0@")
    (tmp_path / "kelp.0001.gltf").write_bytes(document.json(scene([primitive]), buffer.name))
    steps: list[Callable[[], object]] = [
        nothing,
        lambda: buffer.write_bytes(document.buffer),
        nothing,
        lambda: buffer.write_bytes(wide),
        nothing,
    ]
    arrived = [[facts.box and facts.box[3] for facts in look.arrived] for look in looks_while(tmp_path, steps)]
    assert arrived == [[], [None], [1.0], [], [2.0], []]


def test_a_frame_that_could_not_be_opened_is_read_once_it_can(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "manta.0001.obj"
    path.write_bytes(b"")
    steps: list[Callable[[], object]] = [
        nothing,
        nothing,
        lambda: path.write_bytes(frame_text(demo, 1)),
        nothing,
        nothing,
    ]
    arrived = [[facts.readable for facts in look.arrived] for look in looks_while(tmp_path, steps)]
    assert [one for look in arrived for one in look] == [False, True]


def test_each_frame_arrives_once_and_all_are_as_a_scan_has_them(demo: Path, tmp_path: Path) -> None:
    def write(number: int) -> Callable[[], object]:
        return lambda: (tmp_path / f"manta.{number:04d}.obj").write_bytes(frame_text(demo, number))

    # The frames are out of order, as when several machines export: frame 2 comes last.
    looks = list(looks_while(tmp_path, [write(1), write(3), write(4), write(2), nothing, nothing]))
    arrived = [int(facts.number) for look in looks for facts in look.arrived]
    assert arrived == [1, 3, 4, 2]
    (sequence, facts) = looks[-1].measured[0]
    assert facts == tuple(scan(discover(tmp_path).sequences[0].files))
    assert len(sequence.files) == 4


def test_a_frame_written_again_arrives_again(demo: Path, tmp_path: Path) -> None:
    path = tmp_path / "manta.0001.obj"
    steps: list[Callable[[], object]] = [
        lambda: path.write_bytes(frame_text(demo, 1)),
        nothing,
        nothing,
        lambda: path.write_bytes(frame_text(demo, 2) + b"# again\n"),
        nothing,
        nothing,
    ]
    assert [len(look.arrived) for look in looks_while(tmp_path, steps)] == [0, 0, 1, 0, 0, 1, 0]


def test_what_is_done_between_two_looks_delays_the_next_look_by_no_more(demo: Path, tmp_path: Path) -> None:
    waits: list[float] = []

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        return len(waits) < 3

    (tmp_path / "manta.0001.obj").write_bytes(frame_text(demo, 1))
    for _ in watch(tmp_path, wait):
        time.sleep(0.5)
    assert waits == [WATCH_SECONDS[0], WATCH_SECONDS[0], WATCH_SECONDS[1]]
