"""How far long work has come, on standard error, where somebody sits at it."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

Told = Callable[[int, int], None]
"""Called with how much is done, and how much there is."""
EVERY = 0.2
"""Seconds between two lines."""


@contextmanager
def progress(what: str) -> Iterator[Told]:
    """Give a function to be told how far it is; for a pipe it says nothing."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda done, whole: None
        return
    began = time.monotonic()
    last = began

    def told(done: int, whole: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < EVERY or not done:
            return
        last = now
        left = (now - began) / done * (whole - done)
        line = f"{what}: {done} of {whole}, about {left:.0f} s left (Ctrl-C stops)"
        click.echo(f"\r\x1b[K{line}", nl=False, err=True)

    try:
        yield told
    finally:
        if last > began:
            click.echo("\r\x1b[K", nl=False, err=True)
