"""`python -m stance` is the command `stance`."""

from stance.cli.app import run

run()
