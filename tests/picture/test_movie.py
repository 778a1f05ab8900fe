"""Tests of movies and animated images. MP4 and GIF are decoded by FFmpeg (PyAV), PNG and WebP by Pillow."""

from __future__ import annotations

import io
import threading
import tracemalloc
from collections.abc import Iterator
from fractions import Fraction

import av
import numpy as np
import pytest
from PIL import Image

from inspector.picture.canvas import Picture, blank
from inspector.picture.movie import ENDINGS, movie_bytes

PICTURES = [blank(64, 48, (40 * number, 0, 90)) for number in range(5)]


def times(data: bytes) -> list[float]:
    """Return the duration of each picture in milliseconds."""
    with Image.open(io.BytesIO(data)) as image:
        shown = []
        for number in range(image.n_frames):
            image.seek(number)
            image.load()
            shown.append(image.info["duration"])
        return shown


@pytest.mark.parametrize("ending", [".png", ".webp"])
def test_all_pictures_at_their_rate(ending: str) -> None:
    data = movie_bytes(PICTURES, Fraction(25), ending)
    assert times(data) == pytest.approx([40.0] * 5)
    with Image.open(io.BytesIO(data)) as image:
        assert image.info["loop"] == 0
        for number, picture in enumerate(PICTURES):
            image.seek(number)
            assert np.array_equal(np.asarray(image.convert("RGB")), picture)


@pytest.mark.parametrize("ending", [".gif", ".mp4"])
def test_by_another_decoder(ending: str) -> None:
    """A decoded value may differ from the original by up to 6 on a scale from 0 to 255, because MP4 uses fewer levels
    and GIF uses a palette."""
    data = movie_bytes(PICTURES, Fraction(25), ending)
    with av.open(io.BytesIO(data)) as container:
        (stream,) = container.streams.video
        decoded = [frame.to_ndarray(format="rgb24") for frame in container.decode(stream)]
        assert stream.average_rate == 25
    assert len(decoded) == 5
    for frame, picture in zip(decoded, PICTURES, strict=True):
        assert frame.shape == picture.shape
        assert np.abs(frame.astype(int) - picture).max() <= 6


def test_an_odd_size_grows_by_a_pixel() -> None:
    data = movie_bytes([blank(63, 47)] * 2, Fraction(24), ".mp4")
    with av.open(io.BytesIO(data)) as container:
        assert {frame.to_ndarray(format="rgb24").shape for frame in container.decode(video=0)} == {(48, 64, 3)}


@pytest.mark.parametrize("ending", [".png", ".webp", ".gif"])
def test_equal_pictures_keep_their_time(ending: str) -> None:
    pictures = [blank(6, 4, (90, 0, 0))] * 3 + [blank(6, 4, (0, 0, 90))]
    assert sum(times(movie_bytes(pictures, Fraction(25), ending))) == pytest.approx(160.0)


@pytest.mark.parametrize("ending", ENDINGS)
def test_pictures_of_several_sizes_or_none(ending: str) -> None:
    with pytest.raises(ValueError, match="the same size"):
        movie_bytes([blank(3, 3), blank(3, 4)], Fraction(25), ending)
    with pytest.raises(ValueError, match="at least one picture"):
        movie_bytes([], Fraction(25), ending)


@pytest.mark.parametrize("ending", [".png", ".webp", ".gif"])
def test_rounding_never_strays(ending: str) -> None:
    """At 24 fps, a picture takes 41.67 ms, which GIF can't represent. 48 pictures take exactly two seconds."""
    pictures = [blank(20, 10, (5 * number, 0, 90)) for number in range(48)]
    shown = times(movie_bytes(pictures, Fraction(24), ending))
    assert len(shown) == 48
    assert sum(shown) == pytest.approx(2000.0, abs=0.01)
    assert max(shown) - min(shown) <= 10.0


@pytest.mark.parametrize("ending", [".png", ".webp", ".gif"])
@pytest.mark.parametrize("rate", [Fraction(24000, 1001), Fraction(1, 3), Fraction(100)])
def test_other_rates(ending: str, rate: Fraction) -> None:
    assert times(movie_bytes(PICTURES, rate, ending)) == pytest.approx(
        [float(1000 / rate)] * 5, abs=10 if ending == ".gif" else 1
    )


@pytest.mark.parametrize("ending", [".png", ".gif"])
def test_structure_by_ffmpeg(ending: str) -> None:
    """FFmpeg shares no code with Pillow, but can't read animated WebP. For WebP, Pillow uses the format's own
    library."""
    rng = np.random.default_rng(4)
    pictures = [rng.integers(0, 256, (33, 47, 1), np.uint8).repeat(3, axis=2) for _ in range(4)]  # a GIF has 256 greys
    with av.open(io.BytesIO(movie_bytes(pictures, Fraction(25), ending))) as container:
        decoded = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert len(decoded) == 4
    for frame, picture in zip(decoded, pictures, strict=True):
        assert np.array_equal(frame, picture)


def patch_moves() -> list[Picture]:
    """Return pictures of a moving patch of noise on a plain background.

    The second and the third picture are equal. In the last, the patch is in the bottom right corner.
    """
    rng = np.random.default_rng(9)
    pictures = []
    for left, top in [(3, 5), (4, 5), (4, 5), (31, 20), (60, 44)]:
        picture = blank(64, 48)
        picture[top : top + 4, left : left + 4] = rng.integers(0, 256, (4, 4, 1), np.uint8)
        pictures.append(picture)
    pictures[2] = pictures[1].copy()
    return pictures


@pytest.mark.parametrize("ending", [".png", ".webp", ".gif"])
def test_only_what_changed_is_compressed_and_every_picture_is_whole(ending: str) -> None:
    """The WebP is decoded by Pillow, which uses the format's own library."""
    pictures = patch_moves()
    with Image.open(io.BytesIO(movie_bytes(pictures, Fraction(25), ending))) as image:
        shown = []
        for number in range(image.n_frames):
            image.seek(number)
            shown += [np.asarray(image.convert("RGB"))] * round(image.info["duration"] / 40)
    assert len(shown) == len(pictures)
    for decoded, picture in zip(shown, pictures, strict=True):
        assert np.array_equal(decoded, picture)


@pytest.mark.parametrize("ending", [".png", ".gif"])
def test_what_changed_by_ffmpeg(ending: str) -> None:
    pictures = patch_moves()
    with av.open(io.BytesIO(movie_bytes(pictures, Fraction(25), ending))) as container:
        decoded = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    for frame, picture in zip(decoded, pictures, strict=True):
        assert np.array_equal(frame, picture)


@pytest.mark.parametrize("ending", [".png", ".webp", ".gif"])
def test_a_still_ground_costs_nothing(ending: str) -> None:
    rng = np.random.default_rng(9)
    ground = rng.integers(0, 256, (48, 64, 1), np.uint8).repeat(3, axis=2)
    pictures = [ground.copy() for _ in range(10)]
    for number, picture in enumerate(pictures):
        picture[10, 10] = 20 * number
    one = len(movie_bytes(pictures[:1], Fraction(25), ending))
    assert len(movie_bytes(pictures, Fraction(25), ending)) < 2 * one


@pytest.mark.parametrize("ending", ENDINGS)
def test_memory_does_not_grow_with_the_length(ending: str) -> None:
    def pictures(count: int) -> Iterator[Picture]:
        yield from (blank(320, 180, (number % 256, 0, 90)) for number in range(count))

    def peak(count: int) -> int:
        tracemalloc.start()
        movie_bytes(pictures(count), Fraction(24), ending)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    assert peak(200) < peak(20) + 1_000_000  # 180 more pictures would take 31 MB


@pytest.mark.parametrize("form", [".png", ".webp", ".gif"])
def test_a_limit_on_threads_changes_no_byte(form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """If no thread can be started, pictures are compressed one after another."""
    usual = movie_bytes(iter(PICTURES), Fraction(24), form)

    def refused(_: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", refused)
    assert movie_bytes(iter(PICTURES), Fraction(24), form) == usual
