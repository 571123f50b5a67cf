"""The first step of the command `troubleshoot`: Ctrl-C while it still loads ends it without a word.

Nothing was asked or kept by then, and nobody reads where in the loading it was.
"""

import signal


def start() -> None:
    """Load the program, then run it."""
    usual = signal.signal(signal.SIGINT, signal.SIG_DFL)
    from troubleshoot.__main__ import main

    signal.signal(signal.SIGINT, usual)
    main()
