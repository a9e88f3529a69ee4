"""`python -m rodtrue`."""

from rodtrue.cli import main

main()
