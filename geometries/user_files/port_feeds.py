"""Straight guide added before the flat ports of a mesh, cell by cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.space_ports import SpacePort
from geometries.cells.tetrahedral_cells import MIDDLES, TetrahedralCells


def with_feed(
    cells: TetrahedralCells, port: SpacePort, length: float
) -> tuple[TetrahedralCells, SpacePort]:
    """Draw the facets of a port out along its normal.

    Parameters
    ----------
    cells : TetrahedralCells
        With a group of the port's name.
    port : SpacePort
        In the plane of that group.
    length : float
        Straight guide to add [m].

    Returns
    -------
    TetrahedralCells, SpacePort
        The port lies at the outer end, its reference plane where it was.
    """
    facets = np.sort(cells.groups[port.name], axis=0)
    edge = np.linalg.norm(cells.points[:, facets[0]] - cells.points[:, facets[1]], axis=0)
    layers = max(1, round(length / (1.5 * float(np.median(edge)))))
    corners = np.unique(facets)
    n = cells.points.shape[1]
    heights = length * np.arange(1, layers + 1) / layers
    # node of a corner on a level: the corner itself on level 0
    node = np.full((layers + 1, n), -1)
    node[0, corners] = corners
    node[1:, corners] = n + np.arange(layers * len(corners)).reshape(layers, -1)
    raised = cells.points[:, None, corners] + port.outward[:, None, None] * heights[:, None]
    points = np.concatenate([cells.points, raised.reshape(3, -1)], axis=1)
    steps = [_wedge(facets, node[k], node[k + 1]) for k in range(layers)]
    tets = np.concatenate(steps, axis=1)
    if cells.curved:
        base = np.full(points.shape[1], -1)
        level = np.zeros(points.shape[1])
        for k in range(layers + 1):
            base[node[k, corners]] = corners
            level[node[k, corners]] = k * length / layers
        points, tets = _with_middles(cells, port, points, tets, base, level)
    groups = dict(cells.groups) | {port.name: node[layers][facets]}
    origin = port.origin + length * port.outward
    return (
        TetrahedralCells(points, np.concatenate([cells.tets, tets], axis=1), groups),
        replace(port, origin=origin, feed_length=port.feed_length + length),
    )


def _wedge(facets: Numbers, lower: Numbers, upper: Numbers) -> Numbers:
    """Three tetrahedra (4, 3 k) a facet; diagonals rise from the corner of the lower number."""
    a, b, c = facets
    return np.concatenate(
        [
            np.stack([lower[a], lower[b], lower[c], upper[c]]),
            np.stack([lower[a], lower[b], upper[b], upper[c]]),
            np.stack([lower[a], upper[a], upper[b], upper[c]]),
        ],
        axis=1,
    )


def _with_middles(
    cells: TetrahedralCells,
    port: SpacePort,
    points: Array,
    tets: Numbers,
    base: Numbers,
    level: Array,
) -> tuple[Array, Numbers]:
    """Add middle nodes: over the middle of the port's own edge, at the middle height."""
    first = np.concatenate([tets[i] for i, _ in MIDDLES])
    second = np.concatenate([tets[j] for _, j in MIDDLES])
    n = points.shape[1]
    keys = np.minimum(first, second) * n + np.maximum(first, second)
    distinct, number = np.unique(keys, return_inverse=True)
    low, high = np.divmod(distinct, n)
    across = base[low] != base[high]
    nodes = np.empty(len(distinct), dtype=np.int64)
    own = across & (level[low] == 0) & (level[high] == 0)
    nodes[own] = cells.middle_nodes(low[own], high[own])
    new = np.flatnonzero(~own)
    nodes[new] = n + np.arange(len(new))
    foot = cells.points[:, base[low]]
    foot[:, across] = cells.points[:, cells.middle_nodes(base[low][across], base[high][across])]
    middle = 0.5 * (level[low] + level[high])
    placed = foot[:, new] + port.outward[:, None] * middle[new]
    middles = nodes[number].reshape(6, -1)
    return np.concatenate([points, placed], axis=1), np.concatenate([tets, middles])
