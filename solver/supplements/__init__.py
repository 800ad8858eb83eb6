"""What may stand beside an assessment: a measurement, tolerances."""
