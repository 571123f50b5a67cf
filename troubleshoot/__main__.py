"""The command `troubleshoot`: one error boundary around the commands in `troubleshoot.cli`.

Heavy libraries are imported inside the commands that need them, so that `--help` is quick.
"""

import codecs
import errno
import gc
import importlib
import io
import os
import stat
import sys

import click

from troubleshoot import __version__
from troubleshoot.cli.echo import echo
from troubleshoot.cli.groups import Whole, with_examples
from troubleshoot.errors import Interrupted, UserError, nearest
from troubleshoot.printable import sentence

# command -> (module, object in it)
COMMANDS = {
    "diagnose": ("troubleshoot.cli.diagnose", "diagnose"),
    "cases": ("troubleshoot.cli.cases", "cases"),
    "explain": ("troubleshoot.cli.explain", "explain"),
    "drill": ("troubleshoot.cli.drill", "drill"),
    "learn": ("troubleshoot.cli.learn", "learn"),
    "chart": ("troubleshoot.cli.chart", "chart"),
    "handbook": ("troubleshoot.cli.handbook", "handbook"),
    "demo": ("troubleshoot.cli.demo", "demo"),
    "demos": ("troubleshoot.cli.demos", "demos"),
    "machine": ("troubleshoot.cli.machine", "machine"),
    "coat-plan": ("troubleshoot.cli.coat_plan", "coat_plan"),
    "rules": ("troubleshoot.cli.rules", "rules"),
    "read": ("troubleshoot.cli.read", "read"),
    "run": ("troubleshoot.cli.run_log", "run"),
    "check-up": ("troubleshoot.cli.run_log", "check_up"),
    "calc": ("troubleshoot.cli.calc", "calc"),
    "about": ("troubleshoot.cli.about", "about"),
}


FULL = (errno.ENOSPC, errno.EDQUOT, errno.EROFS)
"""Where nothing more can be written; no fault of the program."""


NO_ROOM = ("failed to map segment", "annot allocate memory", "cannot create shared object")
"""What loaders of libraries say where there is no memory for one (glibc, musl)."""
LOST = "error return without exception set"
"""What CPython says where it had no memory left for the error itself."""


LIKE = {"“": '"', "”": '"', "‘": "'", "’": "'", "—": "-", "–": "-", "−": "-", "…": "...", "·": "*",
        "→": "->", "×": "x", "☐": "[ ]", "½": "1/2", "█": "#", "─": "-", "│": "|"}  # fmt: skip


def _lookalikes(error: UnicodeError) -> tuple[str, int]:
    """What stands for letters that an old encoding lacks."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(LIKE.get(letter, "?") for letter in missing), error.end


class _Late(Whole):
    """A group whose commands are imported when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            raise UserError(
                f"There is no command {cmd_name!r}{nearest(cmd_name, COMMANDS)}; "
                "`troubleshoot --help` lists them."
            )
        module, name = COMMANDS[cmd_name]
        command: click.Command = getattr(importlib.import_module(module), name)
        return with_examples(command, cmd_name)


@click.group(
    cls=_Late, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="troubleshoot")
@click.option(
    "--casebook",
    envvar="TROUBLESHOOT_CASEBOOK",
    metavar="FILE|URL",
    help="Where cases, machines and runs are kept: an SQLite file, or the URL of a PostgreSQL "
    "server. Without it the data folder, or what TROUBLESHOOT_CASEBOOK names.",
)
@click.pass_context
def cli(context: click.Context, casebook: str | None) -> None:
    """Find what is wrong with a bench-top sputter coater, put it right, prove that it is right."""
    context.obj = casebook
    if context.invoked_subcommand is None:
        from troubleshoot.cli.home import home

        home()


def main(args: list[str] | None = None) -> None:
    """Run a command; every end is an exit status and, at most, a sentence on standard error.

    0 done; 1 remarks were found; 2 the input cannot be used; 3 a fault of the program itself (the
    details go to a file, which is named); 130 interrupted.
    """
    if sys.stdin is None:  # it was shut before the program began
        sys.stdin = io.StringIO()
    codecs.register_error("lookalikes", _lookalikes)
    for stream in (sys.stdout, sys.stderr):
        # A pipe in an old encoding must cost a letter, not the whole answer.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="lookalikes")
    # The arrays are small: a second thread only gets in the way. To be said before numpy loads.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What is loaded stays to the end: the collector would look it all through in vain, again and
    # again.
    gc.set_threshold(100_000)
    try:
        status = cli.main(args=args, prog_name="troubleshoot", standalone_mode=False)
        if sys.stdout is not None:
            sys.stdout.flush()  # here, where it can be told that it does not fit
        # Outside its standalone mode click returns the status of `ctx.exit`.
        if isinstance(status, int):
            sys.exit(status)
    except click.ClickException as error:
        told = io.StringIO()
        error.show(told)  # it quotes what was typed
        echo(sentence(told.getvalue()), nl=False, err=True)
        sys.exit(2)
    except UserError as error:
        echo(f"Error: {error}", err=True)
        sys.exit(2)
    except Interrupted as stopped:
        echo(f"\nStopped. {stopped}", err=True)
        sys.exit(130)
    except (click.Abort, KeyboardInterrupt, EOFError):
        echo("\nStopped.", err=True)
        sys.exit(130)
    except BrokenPipeError:
        _say_no_more()  # the reader of a pipe has gone (`| head`): nobody is left to tell
        sys.exit(1)
    except Exception as error:
        if isinstance(error, OSError) and error.errno in FULL:
            echo(
                f"Error: what was to be said cannot be written ({error.strerror}): make room "
                "there, or write to another place.",
                err=True,
            )
            _say_no_more()
            sys.exit(2)
        if _terminal_is_gone(error):
            _say_no_more()
            sys.exit(1)
        if _lacks_memory(error):
            echo(
                "Error: there is too little memory for that here: close other programs, or allow "
                "this one more (256 MB do for a case); what was kept before is safe.",
                err=True,
            )
            sys.exit(2)
        echo(_fault(error), err=True)
        sys.exit(3)


def _lacks_memory(error: BaseException | None) -> bool:
    """Whether it is for want of memory, also where a library could not be loaded for it."""
    while error is not None:
        if isinstance(error, MemoryError) or getattr(error, "errno", None) == errno.ENOMEM:
            return True
        if isinstance(error, ImportError) and any(why in str(error) for why in NO_ROOM):
            return True
        if isinstance(error, SystemError) and str(error) == LOST:
            return True
        error = error.__cause__ or error.__context__
    return False


def _terminal_is_gone(error: Exception) -> bool:
    """Whether the window was closed under a program that was told to outlive it (`nohup`)."""
    if not isinstance(error, OSError) or error.errno != errno.EIO or sys.stdout is None:
        return False
    there = sys.stdout.fileno()
    return stat.S_ISCHR(os.fstat(there).st_mode) and not os.isatty(there)


def _say_no_more() -> None:
    """What is still to be written to standard output is let go: the interpreter tries it again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _fault(error: Exception) -> str:
    """Write the details of a fault of the program to a file and say where."""
    said = (
        f"This is a fault of the program, not yours ({type(error).__name__}). What you answered is "
        "kept."
    )
    try:
        import tempfile
        import traceback

        text = "".join(traceback.format_exception(error))
        with tempfile.NamedTemporaryFile(
            "w", prefix="troubleshoot-", suffix=".log", delete=False, encoding="utf-8"
        ) as log:
            log.write(f"troubleshoot {__version__}, Python {sys.version}\n{text}")
    except Exception as another:  # whatever it is, it must not hide the first
        why = getattr(another, "strerror", None) or type(another).__name__
        return f"{said} The details could not be written down ({why})."
    return f"{said} The details are in {log.name}; please send that file with a bug report."


if __name__ == "__main__":
    main()
