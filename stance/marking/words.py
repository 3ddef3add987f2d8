"""What the marking page says, in the reader's language; places in braces are filled by the page."""

from stance.runtime.language import gettext as _
from stance.types import N_

# The names of crossings are put together from lines across and lines along.
_LINES = (
    N_("near back line"),
    N_("near long service line"),
    N_("near short service line"),
    N_("far back line"),
    N_("far long service line"),
    N_("far short service line"),
    N_("left doubles side line"),
    N_("left singles side line"),
    N_("centre line"),
    N_("right singles side line"),
    N_("right doubles side line"),
)


def name_crossing(name: str) -> str:
    """A crossing's name as `court_points` has it, in the reader's language."""
    return ", ".join(_(part) if part in _LINES else part for part in name.split(", "))


def list_page_words() -> dict[str, str]:
    """All texts of the page by the keys under which it knows them."""
    return {**_list_labels(), **_list_instructions(), **_list_states(), **_list_hints()}


def _list_labels() -> dict[str, str]:
    """Headings, buttons, and what a screen reader says of pictures."""
    return {
        "title": _("Mark the court"),
        "clip": _("{clip}, saved as {file}"),
        "picture": _("The hall without people, from the clip"),
        "hall": _("Picture of the hall. Enter places the chosen crossing, arrow keys move it."),
        "plan": _("Plan of the court. Arrow keys choose a crossing."),
        "lens": _("Magnifier. Drag in it to move the point finely."),
        "lens_empty": _("Magnifier"),
        "left": _("Left by one pixel"),
        "up": _("Up by one pixel"),
        "down": _("Down by one pixel"),
        "right": _("Right by one pixel"),
        "turn": _("Turn plan"),
        "next": _("Next point"),
        "remove": _("Remove point"),
        "sketch": _("Lay a court"),
        "restart": _("Start again"),
        "undo": _("Undo"),
        "save": _("Save court"),
        "net": _("net"),
        "player": _("player"),
        "saved": _("Saved"),
        "next_command": _("Measure the clip with this court:"),
        "copy": _("Copy"),
        "copied": _("Copied"),
        "more": _("Go on marking"),
        "done": _("Done"),
        "bye": _("You can close this window."),
    }


def _list_instructions() -> dict[str, str]:
    """What to do now: a heading, and a sentence below it."""
    return {
        "found_what": _("Check the court that was found"),
        "found_todo": _(
            "Do the blue lines cover the painted ones? Then save. Else start again, or drag four "
            "crossings or more to their places."
        ),
        "marked_what": _("Check the marked court"),
        "marked_todo": _(
            "Do the blue lines cover the painted ones? Then save. Drag what is off, or start again."
        ),
        "empty_what": _("Choose a crossing on the plan"),
        "empty_todo": _(
            "Then tap it in the picture. Or lay a court on the picture and drag its corners to "
            "their places."
        ),
        "more_what": _("Choose the next crossing"),
        "more_todo": _("On the plan, or one of the blue ones in the picture."),
        "tap_todo": _("Tap the middle of this crossing in the picture."),
        "guess_todo": _("Drag it to the middle of this crossing, or remove it if it is not seen."),
        "drag_todo": _("Drag it, or drag inside the magnifier to place it finely."),
        "off_todo": _("It lies {number} pixels from where the other points put it."),
    }


def _list_states() -> dict[str, str]:
    """How well the court fits, and what is missing."""
    return {
        "guesses": _("Dashed points left to drag to their crossings, or to remove: {count}."),
        "missing": _("Crossings still to mark: {count}."),
        "found_stays": _("Until then the court that was found is shown; undo to keep it."),
        "found_fit": _("The court was found in the picture."),
        "error": _("Typical error {number} pixels"),
        "worst": _("Largest: {number} pixels, at {name}."),
        "misfit": _(
            "{name} does not fit the other points: they put it {number} pixels away. Move it "
            "along the red line, or remove it."
        ),
        "misfit_far": _(
            "{name} does not fit the other points at all. Choose its place again, or remove it."
        ),
        "four": _("Four points always fit well: mark two more as a check."),
        "degrees": _("This court adds {number}° to the error of an angle."),
        "gone": _(
            "The connection to Stance is gone. Start “stance court” again, and reload this page."
        ),
        "not_saved": _("Not saved: the connection to Stance is gone. Start “stance court” again."),
    }


def _list_hints() -> dict[str, str]:
    """How to mark well."""
    return {
        "hints": _("How to mark well"),
        "hint_half": _(
            "The player you measure faces the net; on the plan that half is below the net."
        ),
        "hint_way": _(
            "Choose a crossing on the plan, tap it in the picture, and draw it to the middle of "
            "both lines with the magnifier."
        ),
        "hint_count": _(
            "Six or more crossings, as far apart as the picture shows them. Four are the least."
        ),
        "hint_lines": _(
            "Blue lines show where the court lies then. They should cover the painted lines; drag "
            "any blue crossing onto its place."
        ),
        "hint_keys": _(
            "Keys: on the plan arrows choose a crossing; in the picture Enter places it, and "
            "arrows move it by a pixel, with Shift by ten, with Alt by a fifth. N for the next "
            "point, Delete removes it, Ctrl+Z undoes."
        ),
    }
