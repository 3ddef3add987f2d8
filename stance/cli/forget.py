"""The command `stance forget`."""

from pathlib import Path
from typing import Annotated

import typer

from stance.cli.console import say, sentences
from stance.errors import StanceError
from stance.runtime.language import gettext as _


def forget(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", hidden=True)],
    player: Annotated[str, typer.Option(metavar="NAME", help=_("Name of the player to forget."))],
    yes: Annotated[bool, typer.Option("--yes", help=_("Delete without asking."))] = False,
) -> None:
    """Delete all that was written of a player, and prove it.

    FOLDER has results, screenings or comparisons in it or below it. Results whose clips show the
    player go whole, pictures of a partner included. What is left is searched for the name. Clips,
    court files and rosters are yours and stay.

    Exit codes: 0 nothing of the player is left; 1 files that the tool did not write still hold the
    name (they are listed), or nothing was deleted; 3 there is no such folder, nothing of the player
    in it, or a file can't be deleted.
    """
    with sentences():
        from stance.academy.forgetting import forget_player, recall_player

        memory = recall_player(folder, player)
        for file in memory.files:
            say(f"  {file}")
        question = _("Delete these {number} files for good?").format(number=len(memory.files))
        if not (yes or typer.confirm(question)):
            raise StanceError(_("Nothing was deleted."))
        proof = forget_player(memory)
        deleted = _(
            "Deleted: {number} files. Searched for {player} in the names and contents of the "
            "{searched} files left in {folder}: {found} found."
        )
        say(
            deleted.format(
                number=len(memory.files),
                player=memory.player,
                searched=proof.searched,
                folder=folder,
                found=len(proof.left) or _("none"),
            )
        )
        if proof.left:
            files = "\n".join(f"  {file}" for file in proof.left)
            raise StanceError(
                _("These files hold the name and are not this tool's; see to them by hand:")
                + f"\n{files}"
            )
