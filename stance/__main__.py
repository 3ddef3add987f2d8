"""`python -m stance` is the command `stance`."""

from stance.cli.app import app

app(prog_name="stance")
