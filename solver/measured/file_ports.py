"""Whether the ports of a measured file can be those of a part, before anything is computed."""

from __future__ import annotations

from geometries.shapes.part import known_part
from solver.errors import StudyError
from solver.measured.touchstone_file import Measurement
from solver.studies.messages import one_line
from solver.waves.guide_modes import mode_cutoffs


def check_ports(part: object, measurement: Measurement) -> None:
    """Refuse a file whose number of ports no reading of the part explains.

    Parameters
    ----------
    part : Part
    measurement : Measurement
        Within the band of the study.

    Raises
    ------
    StudyError
        If the file has more ports than the part, and there are not enough modes above cutoff
        anywhere in the band for a file of every mode. Which of those the part can excite only
        the solution tells, so `compare` looks once more.
    """
    guides, count = known_part(part).guides, measurement.ports
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
