"""`python -m stopout` is the command."""

from stopout.cli import main

if __name__ == "__main__":
    main()
