"""`python -m previz` is the command `previz`."""

from previz.cli import main

if __name__ == "__main__":
    main()
