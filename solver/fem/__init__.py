"""Assembly, linear solves and error bars; knows no waveguide part."""
