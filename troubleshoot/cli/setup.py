"""What several commands need: the rules, the machine, the clock, whether a terminal is there."""

import os
import shlex
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from troubleshoot.casebook.place import data_folder, is_url, shown
from troubleshoot.cli.echo import echo
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import Interrupted, UserError, instead, nearest
from troubleshoot.knowledge.model import RuleBase

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store


def now() -> str:
    """The present time as an entry keeps it."""
    return datetime.now().isoformat(timespec="seconds")


def stopwatch() -> float:
    """Seconds that no setting of the clock changes; a computer that sleeps counts on, if it can."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


def load_rules(extra: tuple[Path, ...]) -> RuleBase:
    """The shipped rules, with a lab's own folders on top; changes are told on standard error.

    A lab's folder is named by --rules, or by TROUBLESHOOT_RULES, or is `rules` in the data folder.
    """
    return load_with_changes(extra)[0]


def load_with_changes(extra: tuple[Path, ...]) -> tuple[RuleBase, tuple[str, ...]]:
    """As `load_rules`, with the names of what the lab's own folders changed."""

    from troubleshoot.knowledge.load import load, load_with_places, shipped

    if not (extra := extra or _own_rules()):
        return load(), ()
    loaded = load_with_places([shipped(), *extra])
    for name in loaded.overridden:
        echo(f"Overridden by your own rules: {name}", err=True)
    for name in loaded.extended:
        echo(f"Extended by your own rules: {name}", err=True)
    return loaded.rules, (*loaded.overridden, *loaded.extended)


def _own_rules() -> tuple[Path, ...]:
    """The folder of the lab's rules, if it has any."""
    if named := os.environ.get("TROUBLESHOOT_RULES"):
        return (Path(named),)
    with suppress(UserError):  # without a home there are none
        folder = data_folder() / "rules"
        return (folder,) if os.path.isdir(folder) else ()
    return ()


@contextmanager
def stopping(kept: str) -> Iterator[None]:
    """Where the operator ends the program inside, say what is kept."""
    import click

    try:
        yield
    except (click.Abort, KeyboardInterrupt, EOFError):
        raise Interrupted(kept) from None


def find_case_file(name: str) -> Path:
    """The file a user means: a path, or the name of a demo case."""
    path = Path(name)
    try:
        if path.exists():
            return path
    except OSError as error:
        raise UserError(f"{name[:80]} cannot be looked for ({error.strerror}).") from None
    known = {p.stem: p for p in demo_files()}
    if path.stem in known and (path.parent.name in ("", "cases_demo")):
        return known[path.stem]
    raise UserError(
        f"{name} does not exist: check the name and the folder{nearest(path.stem, known)}."
    )


def demo_files() -> list[Path]:
    """The demo cases that come with the package (in a checkout: `cases_demo/`)."""
    packed = Path(__file__).parent.parent / "data" / "cases_demo"
    folder = packed if packed.is_dir() else Path(__file__).parent.parent.parent / "cases_demo"
    return sorted(p for p in folder.glob("*.yaml") if not p.name.startswith("machine_"))


def make_folder(path: Path) -> None:
    """Make a folder that is to be written into. Raises `UserError`."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{path} cannot be made ({error.strerror}): name another folder.") from None


def interactive() -> bool:
    """Whether somebody can answer."""
    streams = (sys.stdin, sys.stdout)
    return all(stream is not None and stream.isatty() for stream in streams)


def casebook_named() -> str | None:
    """The casebook that the operator named, if any; else it is in the data folder."""
    import click

    named: str | None = click.get_current_context().obj
    return named


def open_casebook() -> "Store":
    """The casebook that is meant. Raises `UserError` when it cannot be used."""

    from troubleshoot.casebook.clock import doubt
    from troubleshoot.casebook.store import Store

    def warn(told: str) -> None:
        echo(f"Careful: {told}", err=True)

    if casebook_named() in ("sqlite://", "sqlite:///", "sqlite:///:memory:"):
        raise UserError(f"{casebook_named()} keeps nothing once the program ends: name a file.")
    store = Store(casebook_named(), warn)
    if wrong := doubt(store, now()):
        warn(wrong)
    return store


def casebook_kept() -> bool:
    """Whether there is a casebook already, so that looking into it makes none."""
    named = casebook_named()
    return (named is not None and is_url(named)) or Path(shown(named)).is_file()


def going_on(case: int) -> str:
    """The command that goes on with a case."""
    return in_casebook(f"diagnose --resume --case {case}")


def in_casebook(command: str) -> str:
    """What to type for a command, so that it finds the casebook that is used now."""
    named = casebook_named()
    where = "" if named is None else f" --casebook {shlex.quote(shown(named))}"
    return f"troubleshoot{where} {command}"


def machine_named(name: str | None) -> Machine | None:
    """The machine that --machine names, a profile or a YAML file, if it names any."""
    if name is None:
        return None
    from troubleshoot.coater.profile import read_machine

    return read_machine(Path(name)) if name.endswith((".yaml", ".yml")) else stored_machine(name)


def stored_machine(name: str | None, store: "Store | None" = None) -> Machine | None:
    """The stored profile of that name, or the only one there is."""
    machines = {m.name: m for m in (store or open_casebook()).machines()}
    if name is not None:
        if name not in machines:
            known = instead(name, machines) if machines else ": none is kept yet"
            raise UserError(f"There is no machine called {name!r}{known}.")
        return machines[name]
    return next(iter(machines.values())) if len(machines) == 1 else None
