"""A decimating filter as matrix products over the record laid out in rows.

Each row of the record meets the filter of several outputs at once. Row r meets the filter of
output i in row r - q, so there is one table per shift q, and the products that belong to one
output are added up. Two ways of adding, each several times faster than the other at its kind of
row (measured side by side; the sums are the same).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.linalg import get_blas_funcs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from straypath.arrays import FloatArray


# From this step on a row is long enough for one wide product.
LONG_STEP = 20


@dataclass(frozen=True)
class FilterProduct:
    """The filter as one table of shape (outputs, row length) per shift.

    Parameters
    ----------
    tables : array, shape (shifts, outputs, row length)
    """

    tables: NDArray[Any]

    @classmethod
    def of(cls, taps: FloatArray, step: int, dtype: np.dtype[Any]) -> FilterProduct:
        """Lay out the taps of a filter that gives one output every `step` samples."""
        outputs = 4 if step >= LONG_STEP else 8
        row_length = outputs * step
        shifts = -(-(len(taps) + (outputs - 1) * step) // row_length)
        filters = np.zeros((outputs, shifts * row_length))
        for i in range(outputs):
            filters[i, i * step : i * step + len(taps)] = taps
        tables = filters.reshape(outputs, shifts, row_length).swapaxes(0, 1)
        return cls(np.ascontiguousarray(tables, dtype=dtype))

    @property
    def shifts(self) -> int:
        """How many rows one output spans."""
        return int(self.tables.shape[0])

    @property
    def outputs(self) -> int:
        """Outputs per row."""
        return int(self.tables.shape[1])

    @property
    def row_length(self) -> int:
        """Samples per row."""
        return int(self.tables.shape[2])

    def apply(self, block: NDArray[Any], out: NDArray[Any]) -> None:
        """Filter a block of whole rows into `out`; the last shifts - 1 rows are only looked at."""
        rows = block.reshape(-1, self.row_length)
        if self.row_length >= self.outputs * LONG_STEP:
            self._one_wide_product(rows, out)
        else:
            self._adding_products(rows, out)

    def _one_wide_product(self, rows: NDArray[Any], out: NDArray[Any]) -> None:
        count, many = len(rows) - self.shifts + 1, self.outputs
        products = self.tables.reshape(-1, self.row_length) @ rows.T
        total = products[:many, :count].copy()
        for q in range(1, self.shifts):
            total += products[q * many : (q + 1) * many, q : q + count]
        out.reshape(count, many)[:] = total.T

    def _adding_products(self, rows: NDArray[Any], out: NDArray[Any]) -> None:
        count = len(rows) - self.shifts + 1
        gemm = get_blas_funcs("gemm", dtype=rows.dtype)
        total = out.reshape(count, self.outputs).T
        for q, table in enumerate(self.tables):
            # In place: `total` is a view of `out`, laid out as the routine wants it.
            gemm(1.0, table, rows[q : q + count].T, float(q > 0), total, overwrite_c=1)
