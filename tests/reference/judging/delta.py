"""CIEDE2000, written from the formula as published: Sharma, Wu, Dalal, Color Research and Application 30(1), 2005."""

from __future__ import annotations

import numpy as np

FAR = 25.0**7


def ciede2000(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """The difference of Lab colours, pair by pair; all weights 1."""
    (l1, a1, b1), (l2, a2, b2) = (
        np.moveaxis(np.asarray(one, float), -1, 0),
        np.moveaxis(np.asarray(other, float), -1, 0),
    )
    mean = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    stretch = 1 + 0.5 * (1 - np.sqrt(mean**7 / (mean**7 + FAR)))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    coloured = c1 * c2 > 0
    apart = h2 - h1
    turned = np.where(apart > 180, apart - 360, np.where(apart < -180, apart + 360, apart)) * coloured
    light, chroma = l2 - l1, c2 - c1
    hue = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turned / 2))
    middle_l, middle_c, both = (l1 + l2) / 2, (c1 + c2) / 2, h1 + h2
    near = np.abs(apart) <= 180
    middle_h = np.where(near, both / 2, np.where(both < 360, both / 2 + 180, both / 2 - 180))
    middle_h = np.where(coloured, middle_h, both)
    t = sum(
        weight * np.cos(np.radians(times * middle_h - shift))
        for weight, times, shift in ((1, 0, 0), (-0.17, 1, 30), (0.24, 2, 0), (0.32, 3, -6), (-0.20, 4, 63))
    )
    off = (middle_l - 50) ** 2
    weight_l = 1 + 0.015 * off / np.sqrt(20 + off)
    weight_c, weight_h = 1 + 0.045 * middle_c, 1 + 0.015 * middle_c * t
    blue = 30 * np.exp(-(((middle_h - 275) / 25) ** 2))
    rotation = -np.sin(np.radians(2 * blue)) * 2 * np.sqrt(middle_c**7 / (middle_c**7 + FAR))
    light, chroma, hue = light / weight_l, chroma / weight_c, hue / weight_h
    return np.sqrt(np.maximum(light**2 + chroma**2 + hue**2 + rotation * chroma * hue, 0))
