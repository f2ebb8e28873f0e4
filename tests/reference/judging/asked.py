"""What the judges know of a studio and an order that the record does not say."""

from __future__ import annotations

from dataclasses import dataclass

from .record import Box


@dataclass(frozen=True)
class Asked:
    """Lengths in micrometres."""

    cut: float = 0.5
    """How far into the lap the cut line runs, from the upper panel's side."""
    margin_um: int | None = None
    """The printer's unprintable margin, all round; nothing where it is not known."""
    reach_um: int = 0
    """How far the design area reaches beyond the blank's outline; below zero, how far it stays inside."""
    radius_um: int = 0
    """Of the blank's round corners."""
    place: tuple[tuple[str, int], ...] = ()
    """How far the design lies from edges of the blank, by their names; in the middle where neither is there."""
    keep_clear: tuple[Box, ...] = ()
    """Where no lap may lie, on the face."""
    cleaned: bool = False
    """Whether a stage made bare what is almost bare."""
    tint: bool = False
    """Whether the artwork is one pale tint, so that all that is dark is a mark."""
