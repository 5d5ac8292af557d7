"""``python -m encoder`` is the command ``aerogram``; both begin here."""

from __future__ import annotations

import sys

INTERRUPTED = 130
"""Exit code after Ctrl-C."""


def main() -> None:
    """Run the command line; an interrupt while it is loaded ends it in a sentence as well."""
    try:
        from encoder.cli import main as run
    except KeyboardInterrupt:
        sys.stderr.write("Interrupted; nothing was begun.\n")
        sys.exit(INTERRUPTED)
    run()


if __name__ == "__main__":
    main()
