"""What `stance analyse` prints of a clip: a table for a coach, or JSON for a program."""

import math
from pathlib import Path
from typing import TYPE_CHECKING

from stance.cli.console import make_console, print_notices, say, say_json
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _

if TYPE_CHECKING:
    from stance.results.model import PlayerResult, ReadyPosition, Result, StrokeFaced


def print_result(result: "Result", folder: Path, as_json: bool) -> None:
    """Print the result of a clip as a table for a coach, or as JSON for a program.

    Parameters
    ----------
    result
        of the clip
    folder
        in which the report is
    as_json
        whether it is for a program
    """
    from stance.results.json_format import to_json

    print_notices(result.warnings)
    if as_json:
        say_json(to_json(result))
        return
    for player in result.players:
        _print_player(player, result)
    say(result.statement)
    say(_("Report: {file}").format(file=folder / "report.html"))


def _print_player(player: "PlayerResult", result: "Result") -> None:
    """Print one player's ready positions and shares, and what to do."""
    from rich import box
    from rich.table import Table

    from stance.assessment.advice import advise
    from stance.assessment.tendencies import tendencies_of_clip

    table = Table(
        title=_describe_player(player),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
    )
    strokes = player.stroke_of
    when = (_("contact"), _("feet down")) if player.strokes_faced else (_("from"), _("to"))
    for heading in ("", *when, _("feet"), _("hips")):
        table.add_column(heading, justify="right", no_wrap=True)
    # The class's longest word stays whole on a narrow terminal.
    table.add_column(_("stance"), min_width=15)
    table.add_column(_("how sure"), justify="right", no_wrap=True)
    for number, position in enumerate(player.ready_positions, 1):
        times: tuple[str, ...] = (_show_time(position.start_s), _show_time(position.end_s))
        if player.strokes_faced:
            times = _list_times_of_stroke(strokes.get(number - 1), position)
        is_serve = number - 1 in strokes and strokes[number - 1].serve
        table.add_row(str(number), *times, *_list_cells(position, is_serve))
    console = make_console()
    console.print(table)
    for line in (*_describe_strokes(player), *_describe_shares(player)):
        console.print(line)
    advice = advise(tendencies_of_clip(result, player))
    if advice is not None:
        console.print("", " ".join(advice.sentences), "", sep="\n")


def _describe_player(player: "PlayerResult") -> str:
    """What the player is called, and what the measures rest on."""
    sides = {
        ("right", "near"): _("{player}: right-hander, near half"),
        ("right", "far"): _("{player}: right-hander, far half"),
        ("left", "near"): _("{player}: left-hander, near half"),
        ("left", "far"): _("{player}: left-hander, far half"),
    }
    return sides[player.hand, player.half].format(player=player.title)


def _describe_strokes(player: "PlayerResult") -> list[str]:
    """How the strokes faced were met, a line for each way; or that none could be told."""
    from stance.statistics.statement import NO_STROKE_TOLD

    if not player.strokes_faced:
        return [_(NO_STROKE_TOLD)] if player.ready_positions else []
    counts = player.stroke_counts
    lines = (
        _("met set: {count} of {total}").format(count=counts.met_set, total=counts.in_play),
        _("met on the move: {count} of {total}").format(
            count=counts.on_the_move, total=counts.in_play
        ),
        _("not seen well enough: {count} of {total}").format(
            count=counts.not_seen, total=counts.in_play
        ),
        _("serves faced, not counted: {count}").format(count=counts.serves),
    )
    return list(lines)


def _describe_shares(player: "PlayerResult") -> list[str]:
    """The share of each class and of the remark beside them, a line each."""
    from stance.types import COUNTED_NAMES, LEADING

    lines = []
    for what, share in (*player.shares.items(), (LEADING, player.racket_foot_leading)):
        if share is not None and share.share is not None:
            low, high = share.interval
            line = _("{what}: {count} of {total}, {share} % (likely range {low} to {high} %)")
            lines.append(
                line.format(
                    what=_(COUNTED_NAMES[what]),
                    count=share.count,
                    total=player.assessed,
                    share=format_number(100 * share.share),
                    low=format_number(100 * low),
                    high=format_number(100 * high),
                )
            )
    return lines


def _list_times_of_stroke(
    stroke: "StrokeFaced | None", position: "ReadyPosition"
) -> tuple[str, ...]:
    """The contact, and when both feet were down against it; without a stroke, in the clip."""
    if stroke is None:
        return "", _("at {time}").format(time=_show_time(position.start_s))
    return _show_time(stroke.time_s), _show_time(position.start_s - stroke.time_s, signed=True)


def _show_time(time_s: float, signed: bool = False) -> str:
    return _("{number} s").format(number=format_number(time_s, 2, signed))


def _list_cells(position: "ReadyPosition", is_serve: bool) -> tuple[str, ...]:
    """The cells of one ready position but for its times; that a foot is in front, feet say."""
    from stance.types import CLASS_NAMES, RACKET_FOOT_LEADING

    remarks = [remark for remark in position.remarks if remark != RACKET_FOOT_LEADING]
    stance = (CLASS_NAMES[position.stance_class], *remarks)
    shown = [*map(_, stance), *([_("serve")] if is_serve else [])]
    return (
        _show_angle(position.lead_angle_deg),
        _show_angle(position.hip_yaw_deg),
        "; ".join(shown),
        _show_chance(max(position.probabilities.values())),
    )


def _show_angle(angle_deg: float) -> str:
    """An angle with its side in words; where it is not known, that."""
    if not math.isfinite(angle_deg):
        return _("not known")
    size = format_number(abs(angle_deg))
    if round(angle_deg) == 0:
        return f"{size}°"
    words = _("{angle}° back") if angle_deg < 0 else _("{angle}° in front")
    return words.format(angle=size)


def _show_chance(chance: float) -> str:
    """How sure a class is; nothing is quite certain."""
    if not math.isfinite(chance):
        return ""
    return _("over 99 %") if chance > 0.99 else f"{format_number(100 * chance)} %"
