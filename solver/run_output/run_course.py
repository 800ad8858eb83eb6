"""Where a run goes in space: the frame of the guide along its axis, part by part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide
from geometries.shapes.offsets import Offset
from geometries.shapes.part import Guide
from geometries.shapes.twists import Twist
from solver.studies.run_chain import MeasuredPart, RunPart

_PER_TURN = math.radians(6.0)


@dataclass(frozen=True, eq=False)
class Stretch:
    """The course of one part.

    Parameters
    ----------
    name : str
    points : (n, 3) array
        Along the axis [m].
    across, up : (n, 3) array
        Unit vectors along the broad and the narrow wall.
    half : (n, 2) array
        Half the inside dimensions there [m].
    round : bool
        Whether the guide is circular.
    """

    name: str
    points: Array
    across: Array
    up: Array
    half: Array
    round: bool


def course_of(parts: Sequence[RunPart]) -> list[Stretch]:
    """Follow the axis of a run from the transmitter on.

    Parameters
    ----------
    parts : sequence of RunPart

    Returns
    -------
    list of Stretch
        One a part. Bends turn towards the narrow wall's direction (E) or the broad wall's (H).
        What has no known course, as a measured part or a file's, is drawn straight on.
    """
    origin, frame = np.zeros(3), np.eye(3)
    found = []
    for part in parts:
        frame = frame @ _about_axis(part.turn)
        steps = _steps(part)
        points, frames = [origin], [frame]
        for forward, turn in steps:
            origin = origin + frame @ forward
            frame = frame @ turn
            points.append(origin)
            frames.append(frame)
        stacked = np.array(frames)
        first, last = part.guides[0], part.guides[-1]
        share = np.linspace(0.0, 1.0, len(points))[:, None]
        half = (1 - share) * _half(first) + share * _half(last)
        found.append(
            Stretch(
                part.name,
                np.array(points),
                stacked[:, :, 0],
                stacked[:, :, 1],
                half,
                isinstance(last, CircularGuide),
            )
        )
    return found


def _steps(part: RunPart) -> list[tuple[Array, Array]]:
    """Steps in the frame of the guide, each with the turn after it."""
    component: Any = part.component
    straight = np.eye(3)
    if isinstance(component, MeasuredPart):
        return [(np.zeros(3), straight)]
    if isinstance(component, Corner):
        arm = 0.5 * component.outer_arm
        turn = _in_plane(component.plane, component.angle)
        return [(_on(arm), turn), (_on(arm), straight)]
    if isinstance(component, Offset):
        shift = np.array([component.shift_x, component.shift_y, 0.0])
        return [(shift, _about_axis(component.turn))]
    if isinstance(component, Twist):
        count = max(2, math.ceil(component.angle / _PER_TURN))
        step = component.length / count
        return [(_on(step), _about_axis(component.angle / count))] * count
    plane: Any = getattr(component, "plane", None)
    angle: Any = getattr(component, "angle", 0.0)
    if isinstance(component, Bend) or (component.kind == "flexible" and plane and angle):
        count = max(2, math.ceil(angle / _PER_TURN))
        half = _in_plane(plane, 0.5 * angle / count)
        chord = component.axis_length / angle * 2 * math.sin(0.5 * angle / count)
        return [(half @ _on(chord), half @ half)] * count
    length = float(component.axis_length)
    return [(_on(length), straight)]


def _on(length: float) -> Array:
    return np.array([0.0, 0.0, length])


def _in_plane(plane: str, angle: float) -> Array:
    cos, sin = math.cos(angle), math.sin(angle)
    if plane == "E":
        return np.array([[1.0, 0.0, 0.0], [0.0, cos, sin], [0.0, -sin, cos]])
    return np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]])


def _about_axis(angle: float) -> Array:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def _half(guide: Guide) -> Array:
    if isinstance(guide, CircularGuide):
        return np.array([guide.radius, guide.radius])
    return np.array([0.5 * guide.broad_width, 0.5 * guide.narrow_height])
