"""The parts of the page, one a file."""
