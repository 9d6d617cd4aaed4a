"""The command line: parses, calls the library, prints. No logic lives here.

Exit codes: 0 all well, 1 a problem in a file or pieces that cannot be cut, 2 wrong usage, 130 stopped.
"""

from __future__ import annotations

import os
import sys

__all__ = ["main"]

INTERRUPTED = 130
STOPPED = "Stopped. Nothing was written."


def main() -> None:
    """Run a command; a person gets one clear message, never a traceback."""
    from nesting.errors import NestingError

    try:
        from nesting.cli.app import app

        app()
    except NestingError as error:
        _say(f"{_count(error)}{error}")
        sys.exit(1)
    except KeyboardInterrupt:
        _say(STOPPED)
        sys.exit(INTERRUPTED)
    except SystemExit as left:
        if left.code == INTERRUPTED:  # Typer turns Ctrl-C into this, without a word
            _say(STOPPED)
        raise
    except BrokenPipeError:
        # The reader of a pipe has gone; there is nobody left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except Exception as error:
        if os.environ.get("NESTING_DEBUG"):
            raise
        _say(
            f"This is a fault of the program, not yours: {type(error).__name__}: {error}\n"
            "Nothing was written. Please report it with the files that led to it; NESTING_DEBUG=1 shows more."
        )
        sys.exit(1)


def _say(text: str) -> None:
    print(text, file=sys.stderr)


def _count(error: Exception) -> str:
    findings = getattr(error, "findings", ())
    if len(findings) > 1:
        return f"{len(findings)} problems:\n"
    return "" if findings else "Error: "
