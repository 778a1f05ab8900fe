"""The array types of the package."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.int64]
SmallIndices = npt.NDArray[np.int32]
Integers = npt.NDArray[np.integer]
