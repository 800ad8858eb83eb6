"""What the next order changes of the answers of many parts that share a basis.

As `next_order`, with the new functions of the next order in a basis of their own: the answers to
residuals of some of the parts. Where the matrix that couples the new functions with each other is
positive, such a basis gives too small a change and never too large a one, to second order in what
it lacks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.families.affine_pencil import weights_of
from solver.fem.reduced_model import Projection, ReducedModel, distance_to_poles

#: Where new functions resonate that are gradients, below the band's least q, and all others.
_BELOW, _ABOVE = 0.1, 2.0


@dataclass(frozen=True, eq=False)
class AheadModel:
    """The change to the next order for one part; see `NextOrder`, whose place it takes.

    Parameters
    ----------
    poles : (k,) array
        As `ReducedModel.poles`.
    columns : (k, m) array
        As `ReducedModel.columns`.
    own_poles : (w,) array
        Values of q at which the new functions alone would resonate, far above the band.
    from_ports : (w, m) array
        Residuals of the port columns in the modes of the new functions.
    from_modes : (w, k) array
        Residuals of the model's modes at their own q.
    """

    poles: Array
    columns: Array
    own_poles: Array
    from_ports: Array
    from_modes: Array

    def change(self, squared: Array, fluxes: ComplexArray) -> ComplexArray:
        """First change of the scattering matrix, (n, c, c), at q (n,); see `NextOrder.change`."""
        n, _, c = fluxes.shape
        amplitudes = (self.columns @ fluxes) / distance_to_poles(self.poles, squared)[:, :, None]
        # one product of real matrices for all frequencies
        flat = [
            np.ascontiguousarray(each.transpose(1, 0, 2)).reshape(each.shape[1], -1).view(float)
            for each in (fluxes, amplitudes)
        ]
        residual = (self.from_ports @ flat[0] - self.from_modes @ flat[1]).view(complex)
        residual = residual.reshape(-1, n, c).transpose(1, 0, 2)
        brought = residual / (self.own_poles - squared[:, None])[:, :, None]
        return np.asarray(residual.swapaxes(1, 2) @ brought / 2j)


@dataclass(frozen=True, eq=False)
class SharedAhead:
    """Projections of the next order's matrices onto new functions and the shared basis.

    Parameters
    ----------
    across_stiffness, across_mass : (t, w, b) array
        Summands of K and M between the new functions (w) and the basis (b).
    stiffness, mass : (t, w, w) array
        The same among new functions.
    columns : (w, m) array
        Port columns at the reference.
    """

    across_stiffness: Array
    across_mass: Array
    stiffness: Array
    mass: Array
    columns: Array

    def model(
        self, model: ReducedModel, lengths: Array, scale: Array, squared: tuple[float, float]
    ) -> AheadModel:
        """The change for one part, from its reduced model in the shared basis.

        Parameters
        ----------
        model : ReducedModel
            With its vectors.
        lengths : (n,) array
            Over the reference.
        scale : (m,) array
            What the port columns are multiplied by.
        squared : (float, float)
            Least and largest q of the band.
        """
        weights = weights_of(lengths)
        stiffness, mass, across_stiffness, across_mass = (
            np.tensordot(weights, parts, axes=1)
            for parts in (self.stiffness, self.mass, self.across_stiffness, self.across_mass)
        )
        new = Projection(np.zeros((0, len(mass))), stiffness, mass, self.columns * scale).model()
        assert isinstance(new, ReducedModel)
        # gradients resonate at 0 and the rest far above; in between lies what is neither
        pure = (new.poles < _BELOW * squared[0]) | (new.poles > _ABOVE * squared[1])
        turned = new.vectors.T[pure]
        by_stiffness = turned @ (across_stiffness @ model.vectors)
        by_mass = turned @ (across_mass @ model.vectors)
        return AheadModel(
            model.poles,
            model.columns,
            new.poles[pure],
            new.columns[pure] - by_mass @ model.columns,
            by_stiffness - by_mass * model.poles,
        )
