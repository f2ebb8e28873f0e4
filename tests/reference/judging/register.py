"""How far a panel lies from its place, and how much too large it is, to thousandths of a pixel.

Least squares on gradients: where the design ``R`` is moved by ``(dx, dy)`` and enlarged about the panel's
middle by ``1 + (sx, sy)``, the panel reads ``R - gx (dx + sx x) - gy (dy + sy y)`` to first order, with ``gx``
and ``gy`` the design's central differences. All pixels of the panel are one overdetermined system in the four
unknowns and one for brightness; the spread of the residual tells how sure the answer is. Near zero, where it
decides, the first order is exact; large shifts come out somewhat too small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


STEEP = 30.0
"""Levels a pixel beyond which a slope is an edge."""


@dataclass
class Fit:
    """In pixels (shift) and ratios (scale), each with one standard deviation."""

    shift: tuple[float, float]
    scale: tuple[float, float]
    sure_shift: float
    sure_scale: float


def register(panel: np.ndarray, design: np.ndarray, known: np.ndarray) -> Fit | None:
    """The fit of a panel to the design where ``known``; nothing where the design has too little detail."""
    gy, gx = np.gradient(design)
    # An edge of ink against bare ground is too steep for the first order.
    use = known & np.isfinite(panel) & (np.maximum(np.abs(gx), np.abs(gy)) < STEEP)
    use[:2], use[-2:], use[:, :2], use[:, -2:] = False, False, False, False
    if use.sum() < 400:
        return None
    height, width = design.shape
    x = (np.arange(width) - (width - 1) / 2)[None, :].repeat(height, axis=0)[use]
    y = (np.arange(height) - (height - 1) / 2)[:, None].repeat(width, axis=1)[use]
    gx, gy = gx[use], gy[use]
    # Columns are scaled so that the four unknowns are of one size: shifts at the panel's middle and at its edge.
    across, down = width / 2, height / 2
    columns = np.stack([-gx, -gy, -gx * x / across, -gy * y / down, np.ones_like(gx)], axis=1)
    rest = (panel - design)[use]
    normal = columns.T @ columns
    if np.linalg.cond(normal / max(1e-12, np.abs(normal).max())) > 1e10:
        return None
    answer = np.linalg.solve(normal, columns.T @ rest)
    noise = rest - columns @ answer
    spread = np.sqrt(np.diag(np.linalg.inv(normal)) * (noise @ noise) / max(1, len(rest) - 5))
    return Fit(
        shift=(float(answer[0]), float(answer[1])),
        scale=(float(1 + answer[2] / across), float(1 + answer[3] / down)),
        sure_shift=float(max(spread[0], spread[1])),
        sure_scale=float(max(spread[2] / across, spread[3] / down)),
    )
