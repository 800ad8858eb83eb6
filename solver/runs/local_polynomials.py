"""Smooth matrices between known frequencies, by polynomials through the nearest of them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array, ComplexArray

#: Nodes of each polynomial.
POINTS = 6
_ROUNDS = 12
#: Two nodes closer than this are one, relative.
_CLOSEST = 1e-12


def interpolated(nodes: Array, values: ComplexArray, at: Array) -> ComplexArray:
    """Evaluate what is known at nodes between them.

    Parameters
    ----------
    nodes : (k,) array
        Ascending.
    values : (k, ...) array
    at : (n,) array
        Within the nodes.

    Returns
    -------
    (n, ...) array
        Of the polynomial through the `POINTS` nodes about each, or all where there are fewer.
    """
    count = min(POINTS, len(nodes))
    first = np.searchsorted(nodes, at, side="right") - count // 2
    first = np.clip(first, 0, len(nodes) - count)
    index = first[:, None] + np.arange(count)
    x = nodes[index]
    weights = np.ones(x.shape)
    for j in range(count):
        others = np.delete(np.arange(count), j)
        weights[:, j] = np.prod((at[:, None] - x[:, others]) / (x[:, j : j + 1] - x[:, others]), 1)
    return np.asarray(np.einsum("nk,nk...->n...", weights, values[index]))


def between_of(nodes: Array, values: Array, at: Array) -> Array:
    """Return the larger of the values at the two nodes about each point, (n,)."""
    upper = np.clip(np.searchsorted(nodes, at), 0, len(nodes) - 1)
    lower = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 1)
    return np.maximum(values[lower], values[upper])


def enough_nodes(
    answer: Callable[[Array], ComplexArray], start: Array, wanted: float, most: int = 4000
) -> tuple[Array, ComplexArray, float]:
    """Add nodes until the polynomials between them hold.

    Parameters
    ----------
    answer : callable
        Gives the matrices (n, ...) at points (n,), ascending.
    start : (k,) array
        First nodes, ascending.
    wanted : float
        Largest change that a new node in the middle between two may still make.
    most : int
        Nodes at most.

    Returns
    -------
    (m,) array, (m, ...) array, float
        Nodes, what is known there, and the largest change that the last nodes made.
    """
    nodes = np.unique(start)
    if len(nodes) == 1:
        return nodes, answer(nodes), 0.0
    nodes = nodes[np.r_[True, np.diff(nodes) > _CLOSEST * nodes[1:]]]
    values = answer(nodes)
    # intervals that are still to be looked into, by their lower node
    open_at = nodes[:-1]
    left = 0.0
    for _ in range(_ROUNDS):
        where = np.searchsorted(nodes, open_at)
        middle = 0.5 * (nodes[where] + nodes[where + 1])
        inside = (middle - nodes[where]) > _CLOSEST * middle
        middle = middle[inside]
        if not middle.size or len(nodes) + middle.size > most:
            break
        truth = answer(middle)
        off = np.abs(interpolated(nodes, values, middle) - truth).reshape(len(middle), -1)
        change = off.max(axis=1)
        left = float(change.max())
        lower = nodes[where][inside]
        nodes = np.concatenate([nodes, middle])
        order = np.argsort(nodes)
        nodes, values = nodes[order], np.concatenate([values, truth])[order]
        poor = change > wanted
        open_at = np.unique(np.concatenate([lower[poor], middle[poor]]))
        if not open_at.size:
            left = wanted
            break
    return nodes, values, left
