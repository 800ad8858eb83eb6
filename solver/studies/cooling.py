"""How a load is cooled, as its study says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Cooling:
    """Fins in air, and the power that enters.

    Parameters
    ----------
    input_power : float
        Power that enters the load [W].
    fin_area : float
        Area that gives heat to the air [m^2].
    convection : float
        Heat given off by an area, for each kelvin above the air [W/(m^2 K)].
    air : float
        Temperature of the air [degrees Celsius].
    """

    input_power: float
    fin_area: float
    convection: float
    air: float

    def temperature(self, share: float) -> float:
        """Mean temperature of the fins [degrees Celsius] where a share of the power heats them.

        In the steady state, with all the heat through the fins, which are equally warm, and no
        radiation: T = T_air + P share / (h A).
        """
        return self.air + self.input_power * share / (self.convection * self.fin_area)
