"""The command `stance forget`."""

from pathlib import Path
from typing import Annotated

import typer

from stance.cli.console import say, sentences
from stance.errors import StanceError


def forget(
    folder: Annotated[
        Path, typer.Argument(help="Folder with results, screenings or comparisons in or below it.")
    ],
    player: Annotated[str, typer.Option(help="Name of the player to forget.")],
    yes: Annotated[bool, typer.Option("--yes", help="Delete without asking.")] = False,
) -> None:
    """Delete all that was written of a player, and prove it by a search.

    Results whose clips show the player go whole, pictures of a partner included. Clips, court
    files and rosters are yours and stay. Exit codes: 0 nothing of the player is left; 1 files that
    the tool did not write still hold the name (they are listed), or nothing was deleted; 3 there is
    no such folder, nothing of the player in it, or a file can't be deleted.
    """
    with sentences():
        from stance.academy.forgetting import forget_player, recall_player

        memory = recall_player(folder, player)
        for file in memory.files:
            say(f"  {file}")
        if not (yes or typer.confirm(f"Delete these {len(memory.files)} files for good?")):
            raise StanceError("Nothing was deleted.")
        proof = forget_player(memory)
        say(
            f"Deleted: {len(memory.files)} files. Searched for {memory.player} in the names and "
            f"contents of the {proof.searched} files left in {folder}: "
            f"{len(proof.left) or 'none'} found."
        )
        if proof.left:
            files = "\n".join(f"  {file}" for file in proof.left)
            raise StanceError(
                f"These files hold the name and are not this tool's; see to them by hand:\n{files}"
            )
