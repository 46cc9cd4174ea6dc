"""Names for the arrays that the estimators pass around."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
ComplexArray = NDArray[np.complex128]
BoolArray = NDArray[np.bool_]
