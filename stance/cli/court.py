"""The command `stance court`."""

from pathlib import Path
from typing import Annotated

import typer

from stance.cli.console import say, sentences
from stance.runtime.language import gettext as _


def court(
    clip: Annotated[Path, typer.Argument(metavar="CLIP", hidden=True)],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help=_(
                "Court file to save; with --check, the picture to write. Default: <clip "
                "name>.court.json beside the clip; <clip name>_court.png in the current folder."
            ),
        ),
    ] = None,
    check: Annotated[
        bool,
        typer.Option(
            "--check",
            help=_(
                "Draw the marked or found court over the clip's picture and print its "
                "error, without marking."
            ),
        ),
    ] = False,
    court_file: Annotated[
        Path | None,
        typer.Option(
            "--court",
            metavar="FILE",
            help=_(
                "Court file to check. Default: <clip name>.court.json beside the clip or, "
                "where there is none, the court found in the picture."
            ),
        ),
    ] = None,
    browser: Annotated[
        bool, typer.Option(help=_("Open the page in the browser, or only print its address."))
    ] = True,
) -> None:
    """Mark the court in a clip's picture, on a page in the browser.

    The page is served on this computer only. It saves a court file beside CLIP, which `stance
    analyse CLIP` takes from then on; the command ends when the page is closed after saving.
    """
    if court_file and not check:
        raise typer.BadParameter(_("goes with --check only."), param_hint="--court")
    with sentences():
        from stance.court.court_file import court_file_beside

        if check:
            beside = court_file_beside(clip)
            _check_court(
                clip,
                court_file or (beside if beside.exists() else None),
                out or Path(f"{clip.stem}_court.png"),
            )
        else:
            _mark_court(clip, out or court_file_beside(clip), browser)


def _mark_court(clip: Path, court_file: Path, browser: bool) -> None:
    """Serve the marking page until the coach is done."""
    import webbrowser

    from stance.marking.redirect import redirect_file
    from stance.marking.server import MarkingServer
    from stance.marking.task import prepare_marking
    from stance.results.files import check_folder

    check_folder(court_file.parent)
    say(_("Looking for a picture without people ..."), err=True)
    task = prepare_marking(clip, court_file)
    with MarkingServer(task) as server:
        say(_("Mark the court in the browser: {address}").format(address=server.address), err=True)
        say(_("Ctrl-C ends without saving."), err=True)
        if browser:
            with redirect_file(server.address, court_file.parent) as page:
                webbrowser.open(page.as_uri())
                server.wait()
        else:
            server.wait()
    say(_("Saved: {file}").format(file=court_file))
    say(_("Next: {command}").format(command=task.next_command))


def _check_court(clip: Path, court_file: Path | None, picture: Path) -> None:
    """Draw a marked or found court over the clip's picture and print its error."""
    from stance.marking.check import draw_court_check

    words = draw_court_check(clip, court_file, picture)
    say(words)
    say(_("Picture: {file}").format(file=picture))
