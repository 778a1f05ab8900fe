"""Tests of numbers that are written as text and read back bit for bit."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.formats.mesh import Mesh, corners_of
from inspector.formats.wavefront.compose import compose

_NO_FACES = corners_of(np.zeros(1, np.int64), np.zeros(0, np.int64))


def read_back(values: np.ndarray) -> np.ndarray:
    text = compose(Mesh(values, _NO_FACES))
    return np.array([line.split()[1:] for line in text.splitlines()], np.float64)


@pytest.mark.parametrize("rows", [3, 1023, 1024, 5000])
@pytest.mark.parametrize("size", [1e-30, 1e-5, 0.9, 1.0, 7.5, 1e3, 1e8, 1e30])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_numbers_read_back_bit_for_bit(rows: int, size: float, kind: type) -> None:
    # IEEE 754-2019, 5.12.2: 9 digits identify every float32, and 17 every float64.
    values = (np.random.default_rng(rows).normal(size=(rows, 3)) * size).astype(kind)
    values[::7] = np.round(values[::7], 2)
    values[1] = (0.0, np.finfo(kind).tiny, -np.finfo(kind).eps)
    assert np.array_equal(read_back(values).astype(kind), values)


def test_numbers_that_are_not_finite_are_written_too() -> None:
    values = np.zeros((2000, 3), np.float32)
    values[5] = (np.nan, np.inf, -np.inf)
    assert np.array_equal(read_back(values).astype(np.float32), values, equal_nan=True)


@pytest.mark.parametrize("thin", [0.3, 0.02, 1e-4, 1e-12])
def test_single_precision_of_a_thin_mesh(thin: float) -> None:
    values = (np.random.default_rng(1).normal(size=(6000, 3)) * (1, thin, 1)).astype(np.float32)
    assert np.array_equal(read_back(values).astype(np.float32), values)
