"""`python -m stopout` is the command."""

from stopout.cli import main

main()
