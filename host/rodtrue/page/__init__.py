"""The bench page: one run in the process, looked at by any number of browsers."""
