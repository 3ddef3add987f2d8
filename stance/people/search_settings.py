"""Numbers by which players are searched; units and sources as in `settings`."""

from dataclasses import dataclass


@dataclass(frozen=True)
class SearchSettings:
    """When and where new and missing players are searched.

    Attributes
    ----------
    pause_s, longest_pause_s
        between searches for a missing player, doubled after each that finds nobody, up to the
        longest (sense)
    whole_pause_s, longest_whole_pause_s
        the same for the whole half, with nobody known (sense)
    behind_pause_s, behind_growth, longest_behind_pause_s
        the same for somebody behind a player who is followed, and how the pause grows (sense)
    behind_factors
        of the squares looked in for them, in turn (tune clips: one observation in two or three
        finds who is there)
    squares_near_lost
        squares searched around where a player was lost (sense)
    most_empty
        places remembered in which something seems to move and nobody was seen (sense)
    empty_sides, empty_size_ratios
        a square is such a place if it lies so near and its side is so many times as large, from and
        to (sense)
    """

    pause_s: float = 0.25
    longest_pause_s: float = 1.0
    whole_pause_s: float = 0.5
    longest_whole_pause_s: float = 8.0
    behind_pause_s: float = 0.12
    behind_growth: float = 1.25
    longest_behind_pause_s: float = 8.0
    behind_factors: tuple[float, ...] = (1.6, 1.3, 2.0)
    squares_near_lost: int = 2
    most_empty: int = 12
    empty_sides: float = 0.1
    empty_size_ratios: tuple[float, float] = (0.8, 1.25)


@dataclass(frozen=True)
class MotionSearchSettings:
    """What has changed against the still background and may be a player.

    Attributes
    ----------
    width_px
        of the picture in which changes are looked for (sense)
    background_pause_s
        between frames that the background is made of (sense)
    history_frames, variance_threshold
        of OpenCV's MOG2 (sense; the threshold is its default)
    gap_px
        height and width of gaps that are closed (sense: parts of a person that look like the floor
        leave gaps, mostly one above the other)
    least_filled
        part of its rectangle that a change fills (sense)
    least_height_px
        of a change, in the small picture (sense)
    margin_m, net_margin_m
        how far outside the lines, and beyond the net, its foot may be (sense)
    person_height_m
        expected of a person who stands there (rules)
    size_ratios
        height of a change against that person's, least and greatest (sense)
    known_sides
        a square nearer than this to a known player's is theirs (sense)
    most_proposals
        the largest so many are proposed (sense)
    """

    width_px: int = 480
    background_pause_s: float = 0.25
    history_frames: int = 150
    variance_threshold: float = 16.0
    gap_px: tuple[int, int] = (11, 5)
    least_filled: float = 0.05
    least_height_px: float = 3.0
    margin_m: float = 0.5
    net_margin_m: float = 0.3
    person_height_m: float = 1.7
    size_ratios: tuple[float, float] = (0.4, 1.6)
    known_sides: float = 0.2
    most_proposals: int = 3


@dataclass(frozen=True)
class SearchBoxSettings:
    """Squares that cover the half court, or without a court the picture.

    Attributes
    ----------
    step_m, columns
        between rows of places tried, and places in a row (sense: each player is well inside one of
        the squares, as a unit test holds)
    inset_m
        distance of the first row from the back line, of the last from the net, and of the outer
        columns from the side lines (sense)
    person_height_m
        of a grown-up, children included (rules)
    person_factor
        of a square against that height (sense: a child fills a quarter of one)
    most_overlap
        intersection over union from which two squares show the same (sense)
    picture_sides
        without a court, sides of squares: one against the picture's longer side, the others against
        its shorter one (sense)
    picture_step_sides
        between such squares (sense)
    """

    step_m: float = 0.9
    columns: int = 7
    inset_m: tuple[float, float, float] = (0.2, 0.5, 0.3)
    person_height_m: float = 1.7
    person_factor: float = 1.7
    most_overlap: float = 0.5
    picture_sides: tuple[float, float, float] = (1.0, 0.75, 0.45)
    picture_step_sides: float = 0.4
