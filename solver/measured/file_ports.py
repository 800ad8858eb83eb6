"""Ports of a measured file: whether they can be those of a part, and which modes they stand for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from geometries.arrays import ComplexArray
from geometries.shapes.part import Guide
from solver.errors import StudyError
from solver.measured.touchstone_file import Measurement
from solver.studies.messages import one_line
from solver.waves.guide_modes import mode_cutoffs
from solver.waves.scattering import PortMode, ScatteringMatrix

End = Literal["matched", "short"]


def check_ports(guides: Sequence[Guide], measurement: Measurement) -> None:
    """Refuse a file whose number of ports no reading of the part explains.

    Parameters
    ----------
    guides : sequence of RectangularGuide or CircularGuide
        At each port of the part, or of the run.
    measurement : Measurement
        Within the band of the study.

    Raises
    ------
    StudyError
        If the file has more ports than the part, and there are not enough modes above cutoff
        anywhere in the band for a file of every mode. Which of those the part can excite only
        the solution tells, so `compare` looks once more.
    """
    count = measurement.ports
    stop = float(measurement.frequency[-1])
    modes = sum(len(mode_cutoffs(guide, stop)) for guide in guides)
    if count > max(len(guides), modes):
        raise wrong_ports(measurement, len(guides))


def wrong_ports(measurement: Measurement, physical: int) -> StudyError:
    """Return the error that tells how many ports fit.

    Parameters
    ----------
    measurement : Measurement
    physical : int
        Ports of the part.
    """
    wanted = "1" if physical == 1 else "1 or 2"
    return StudyError(
        f"{one_line(str(measurement.file))}: {measurement.ports} ports; the part has {physical}, "
        f"so a file of {wanted} fits"
    )


def dominant_alone(computed: ScatteringMatrix, measurement: Measurement) -> Measurement:
    """Leave out of a file of every mode those that are below cutoff in a part of the band.

    Parameters
    ----------
    computed : ScatteringMatrix
    measurement : Measurement

    Returns
    -------
    Measurement
        With a note of what was left out.
    """
    modes = computed.port_modes
    above = all(mode.cutoff < computed.frequency[0] for mode in modes)
    if measurement.ports != len(modes) or above:
        return measurement
    second = computed.transmitted
    rows = [0] if second is None else [0, second]
    note = "modes that are below their cutoff in a part of the band were left out"
    kept = measurement.s[:, rows][:, :, rows]
    return replace(measurement, s=kept, notes=(*measurement.notes, note))


def paired(
    computed: ScatteringMatrix, measurement: Measurement, end: End
) -> tuple[tuple[PortMode, ...], ComplexArray]:
    """Port modes that the file's ports stand for, and the computed values among them.

    Parameters
    ----------
    computed : ScatteringMatrix
    measurement : Measurement
    end : {"matched", "short"}
        What port 2 ended in while a part with two ports was measured at one.

    Returns
    -------
    modes : tuple of PortMode
        One for each port of the file, m in all.
    s : (n, m, m) complex array

    Raises
    ------
    StudyError
        If no reading of the part explains the file's ports.
    """
    modes, count = computed.port_modes, measurement.ports
    if count == len(modes) and all(m.cutoff < computed.frequency[0] for m in modes):
        return modes, computed.s
    second = computed.transmitted
    physical = 1 if second is None else 2
    rows = [0] if second is None else [0, second]
    dominant = tuple(modes[i] for i in rows)
    if count == physical:
        return dominant, computed.s[:, rows][:, :, rows]
    if count == 1:
        s = computed.s[:, rows][:, :, rows]
        s11 = s[:, 0, 0]
        if end == "short":
            s11 = s11 - s[:, 0, 1] * s[:, 1, 0] / (1 + s[:, 1, 1])
        return dominant[:1], s11[:, None, None]
    raise wrong_ports(measurement, physical)
