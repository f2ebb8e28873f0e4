"""Colours of RGB and gray spaces in double precision, from published formulas: primaries, curves, Bradford, CIE Lab.

Also of profiles that hold just these, a matrix and curves or one gray curve (ICC.1:2022, clauses 8.3 and 8.4), read
here and by no engine.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

D50 = np.array([0.9642, 1.0, 0.8249])
"""White of the profile connection space, ICC.1 clause 7.2.16."""
D65 = (0.3127, 0.3290)
"""IEC 61966-2-1."""
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""ICC.1 annex E."""
SRGB = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""IEC 61966-2-1, ITU-R BT.709."""
OPRGB = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
"""IEC 61966-2-5."""
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
"""SMPTE EG 432-1, with the white of D65; ITU-T H.273 primaries 12."""
BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
"""ITU-R BT.2020; ITU-T H.273 primaries 9."""

Curve = Callable[[np.ndarray], np.ndarray]


def srgb_curve(v: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1."""
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)


def bt709_curve(v: np.ndarray) -> np.ndarray:
    """The camera curve of ITU-R BT.709 turned round; ITU-T H.273 transfer 1."""
    return np.where(v < 0.081, v / 4.5, ((np.maximum(v, 0) + 0.099) / 1.099) ** (1 / 0.45))


def power(gamma: float) -> Curve:
    """A power."""
    return lambda v: np.maximum(v, 0) ** gamma


def lab(xyz: np.ndarray) -> np.ndarray:
    """CIE 15, under D50."""
    ratio = xyz / D50
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def _xyz(point: tuple[float, float]) -> np.ndarray:
    x, y = point
    return np.array([x / y, 1, (1 - x - y) / y])


@dataclass(frozen=True)
class Space:
    """A matrix to XYZ under D50 and a curve a channel; of gray, D50 itself as the only column."""

    columns: np.ndarray
    curves: tuple[Curve, ...]

    def lab(self, values: np.ndarray) -> np.ndarray:
        """Lab of encoded values from 0 to 1."""
        light = np.stack([curve(values[..., i]) for i, curve in enumerate(self.curves)], -1)
        return lab(light @ self.columns.T)


def space(primaries: tuple[tuple[float, float], ...], curve: Curve) -> Space:
    """Of primaries with the white of D65, adapted to D50."""
    corners = np.stack([_xyz(point) for point in primaries], 1)
    white = _xyz(D65)
    to_xyz = corners * np.linalg.solve(corners, white)
    cones = BRADFORD @ D50 / (BRADFORD @ white)
    return Space(np.linalg.inv(BRADFORD) @ np.diag(cones) @ BRADFORD @ to_xyz, (curve,) * 3)


def gray(curve: Curve) -> Space:
    """Gray: the white of the connection space at less light."""
    return Space(D50[:, None], (curve,))


def tags(profile: bytes) -> dict[bytes, bytes]:
    """A profile's tags."""
    found = {}
    for i in range(struct.unpack_from(">I", profile, 128)[0]):
        name, start, length = struct.unpack_from(">4sII", profile, 132 + 12 * i)
        found[name] = profile[start : start + length]
    return found


def of_profile(profile: bytes) -> Space | None:
    """What a profile says if it is nothing but a matrix and curves or one gray curve."""
    held = tags(profile)
    if any(name.startswith(b"A2B") for name in held):
        return None
    if b"kTRC" in held:
        return gray(_curve(held[b"kTRC"]))
    if b"rXYZ" not in held:
        return None
    columns = [np.array(struct.unpack_from(">3i", held[name], 8)) / 65536 for name in (b"rXYZ", b"gXYZ", b"bXYZ")]
    return Space(np.stack(columns, 1), tuple(_curve(held[name]) for name in (b"rTRC", b"gTRC", b"bTRC")))


def _curve(tag: bytes) -> Curve:
    """Clauses 10.6 (curveType) and 10.18 (parametricCurveType)."""
    if tag[:4] == b"curv":
        count = struct.unpack_from(">I", tag, 8)[0]
        points = np.array(struct.unpack_from(f">{count}H", tag, 12), float)
        if count < 2:
            return power(points[0] / 256 if count else 1.0)
        return lambda v: np.interp(v, np.linspace(0, 1, count), points / 65535)
    kind = struct.unpack_from(">H", tag, 8)[0]
    g, *rest = (n / 65536 for n in struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12))
    if kind == 0:
        return power(g)
    if kind != 3:
        raise ValueError(f"parametric curve of type {kind}")
    a, b, c, d = rest
    return lambda v: np.where(v >= d, np.maximum(a * v + b, 0) ** g, c * v)
