"""The program that commands belong to: its help, its exit codes, and how a fault is told."""

import re
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

import previz
from previz.cli.saying import print_out, say, say_fault
from previz.cli.stopping import STOPPED, Stopped, interrupts_heard
from previz.errors import PrevizError
from previz.files import slow_work_told


class _Commands(typer.core.TyperGroup):
    """The commands, with a user's faults told in a message and not in a traceback."""

    def make_context(self, *arguments: Any, **settings: Any) -> Any:
        """Read the options that come before any command."""
        with _faults_told():
            return super().make_context(*arguments, **settings)

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was asked for."""
        with _faults_told():
            _refuse_to_work_nowhere()
            with slow_work_told(say):
                return super().invoke(ctx)


@contextmanager
def _faults_told() -> Iterator[None]:
    try:
        with interrupts_heard():
            yield
    except PrevizError as error:
        say_fault(str(error))
        raise typer.Exit(2) from None
    except (KeyboardInterrupt, Stopped):
        say(STOPPED)
        raise
    except typer.Abort:  # the end of input where something was asked
        say("\nstopped; nothing is written")
        raise typer.Exit(130) from None
    except typer.BadParameter as error:
        error.message = _in_our_words(error.message)
        raise


def _in_our_words(message: str) -> str:
    """What the library of the command line says of a value, without the words of the one behind it.

    >>> _in_our_words("Value error, 'avi' is not one of 'mp4', 'gif', 'webp'.")
    "'avi' is not one of 'mp4', 'gif', 'webp'."
    >>> _in_our_words("Input should be a valid integer, unable to parse string as an integer")
    'it must be a whole number'
    """
    for theirs, ours in (
        (r"^Value error, ", ""),
        (r"^Input should be a valid integer.*", "it must be a whole number"),
        (r"^Input should be greater than or equal to", "it must be at least"),
        (r"^Input should be less than or equal to", "it must be at most"),
    ):
        message = re.sub(theirs, ours, message, flags=re.DOTALL)
    return message


def examples(*commands: str) -> str:
    """The end of a command's help."""
    return "\b\n" + "\n".join(["Examples:", *(f"  {command}" for command in commands)])


#: What a command ends with, for scripts; told in the help, and in the README.
EXIT_CODES = (
    ("0", "done"),
    ("1", "an answer that asks for something: check found a shot that stops, advise no plan that does all it must, "
     "doctor something missing, or a page was too large to write"),
    ("2", "a fault that you can mend: a scene, an option, a file, this machine"),
    ("130", "stopped with Ctrl-C, or with Ctrl-D at a question; by another signal, 128 and its number"),
)  # fmt: skip


def _exit_codes() -> str:
    rows = [textwrap.wrap(f"{code:5}{meaning}", 74, subsequent_indent=" " * 5) for code, meaning in EXIT_CODES]
    return "\b\n" + "\n".join(["Exit codes:", *(f"  {line}" for row in rows for line in row)])


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help reads the same everywhere
    help="See a miniature film's shot before building it: the focus, framing, motion and light that your camera "
    "would record of a model vehicle driving through a set on a table.",
    epilog="\n\n".join(
        [
            _exit_codes(),
            examples("previz guide example", "previz new my_shot.yaml", "previz render scenes/quay_lorry.yaml --draft"),
        ]
    ),
)


def _print_version(wanted: bool) -> None:
    if wanted:
        print_out(f"previz {previz.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


def _refuse_to_work_nowhere() -> None:
    try:
        Path.cwd()
    except OSError:
        raise PrevizError("the folder that this runs in is no longer there; change to another one with cd") from None
