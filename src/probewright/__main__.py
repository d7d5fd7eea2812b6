"""`python -m probewright`."""

from probewright.cli import main

main()
