"""The command line: parses, calls the library, shows."""
