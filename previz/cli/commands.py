"""All commands of the program, in the order in which its help lists them: each module adds its own."""

# isort: off
from previz.cli import starting, checking, filming, advising, comparing, joining, drafting, explaining  # noqa: F401
from previz.cli.program import app
# isort: on

__all__ = ["app"]
