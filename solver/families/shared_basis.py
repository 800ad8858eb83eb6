"""One basis for many parts that differ in stretched lengths: a part then costs a small problem.

Snapshots at some lengths and some q span a small space, as in `reduced_model`. The summands of an
`AffinePencil` are projected onto it once; those of any part are sums of the small ones. The basis
is taken twice, the last moment of every snapshot left out in one: by how far the two answer apart,
at each frequency and for each part, the basis may be wrong.

A span of solutions of different parts holds fields whose sources in one part are not theirs, which
resonate at places that mean nothing. Hardly any port drives them, and they stand elsewhere in the
smaller basis; they are left out.

References
----------
C. Prud'homme et al., "Reliable real-time solution of parametrized partial differential equations:
reduced-basis output bound methods", J. Fluids Eng. 124 (2002) 70 (from memory): affine
parameters, projected once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from solver.families.affine_pencil import weights_of
from solver.families.shared_ahead import AheadModel, SharedAhead
from solver.fem.reduced_model import Projection, ReducedModel

#: One that the smaller basis has as well stands there to this part of q.
_ALIKE = 1e-7
#: Such resonances are looked for from this part of the band's least q to so many times its most.
_ABOUT = (0.4, 1.8)


@dataclass(frozen=True, eq=False)
class SharedLevel:
    """The small problem of all parts in one space.

    Parameters
    ----------
    stiffness, mass : (t, b, b) array
        The summands of K and M in the basis.
    columns : (b, m) array
        Port columns at the reference.
    inner : int
        Vectors of the basis, its first, that are there without every snapshot's last moment.
    unknowns : int
        Of the space.
    ahead : SharedAhead or None
        What tells the change to the next order.
    """

    stiffness: Array
    mass: Array
    columns: Array
    inner: int
    unknowns: int
    ahead: SharedAhead | None

    def models(
        self,
        lengths: Array,
        scale: Array,
        load: Array,
        band: tuple[float, float],
        faint: float,
    ) -> tuple[ReducedModel, ReducedModel, AheadModel | None]:
        """Small problems of a part: in the basis, in the smaller one, and of the next order.

        Parameters
        ----------
        lengths : (n,) array
            Over the reference.
        scale : (m,) array
            What the port columns are multiplied by.
        load : (m,) array
            About how large the admittances of the waves are [rad/m].
        band : (float, float)
            Least and largest q.
        faint : float
            Coupling to all ports, over q, under which a resonance may be one of the basis alone.
        """
        whole, inner = (self._model(lengths, scale, n) for n in (len(self.columns), self.inner))
        undriven = [faint_poles(model, load, band, faint) for model in (whole, inner)]
        alike = np.abs(whole.poles[:, None] - inner.poles) < _ALIKE * band[1]
        whole = without(whole, undriven[0] & ~alike.any(axis=1))
        inner = without(inner, undriven[1] & ~alike.any(axis=0))
        step = self.ahead.model(whole, lengths, scale, band) if self.ahead is not None else None
        return whole.bare, inner.bare, step

    def _model(self, lengths: Array, scale: Array, size: int) -> ReducedModel:
        stiffness, mass = (
            small_matrix(parts, lengths)[:size, :size] for parts in (self.stiffness, self.mass)
        )
        columns = self.columns[:size] * scale
        model = Projection(np.zeros((0, size)), stiffness, mass, columns).model()
        assert isinstance(model, ReducedModel)
        return model


def faint_poles(
    model: ReducedModel, load: Array, band: tuple[float, float], faint: float
) -> NDArray[np.bool_]:
    """Which resonances (r,) about a band no port drives by more than `faint`."""
    low, high = _ABOUT[0] * band[0], _ABOUT[1] * band[1]
    coupling = model.columns**2 @ load
    about = (model.poles > low) & (model.poles < high)
    return np.asarray(about & (coupling < faint * band[0]))


def without(model: ReducedModel, left_out: NDArray[np.bool_]) -> ReducedModel:
    """A model with some of its resonances (r,) left out."""
    kept = ~left_out
    return ReducedModel(model.poles[kept], model.columns[kept], model.basis, model.vectors[:, kept])


def small_matrix(parts: Array, lengths: Array) -> Array:
    """Sum of summands (t, r, c) at lengths (n,) over the reference, (r, c)."""
    return np.asarray(np.tensordot(weights_of(lengths), parts, axes=1))
