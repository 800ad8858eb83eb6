"""Run the command line as ``python -m solver``."""

from solver.commands.command_line import main

if __name__ == "__main__":
    raise SystemExit(main())
