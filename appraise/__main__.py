"""`python -m appraise` is the same as the command `appraise`."""

from __future__ import annotations

from appraise.cli import main

if __name__ == "__main__":
    main()
