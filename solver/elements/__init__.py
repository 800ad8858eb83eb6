"""Elements of reference cells: functions and quadrature."""
