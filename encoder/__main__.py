"""``python -m encoder`` is the command ``aerogram``."""

from __future__ import annotations

from encoder.cli import main

if __name__ == "__main__":
    main()
