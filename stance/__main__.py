"""`python -m stance` is the command `stance`."""

from stance.cli import app

app(prog_name="stance")
