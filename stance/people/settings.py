"""All numbers by which players are found and followed.

Units end the names: `_s` seconds, `_m` metres, `_px` pixels, `_sides` parts of the side of a square
crop (of the larger one, between two), `_heights` parts of a pose's height in the picture,
`_factor` times a square's side; colour differences are Hellinger distances, 0 to 1.

Where a value comes from is said with each:

* *rules*: the court, the body, the game;
* *sense*: common sense; the whole was then scored with `python -m tests.evaluation.pair_accuracy`
  on rendered clips of pairs (tune split), but there is no record of a search for this value;
* *tune clips*: read off rendered clips of the tune split;
* *measured*: timed or counted, with the figures in docs/accuracy.md or docs/performance.md.

To try another value change it here and score the tune split again.
"""

from dataclasses import dataclass

from stance.people.search_settings import (
    MotionSearchSettings,
    SearchBoxSettings,
    SearchSettings,
)


@dataclass(frozen=True)
class HalfCourtSettings:
    """Who counts as standing on a half court.

    Attributes
    ----------
    margin_found_m
        how far outside the lines the base may be when somebody is first found, and on the whole
        (sense: a foot beside the line)
    margin_followed_m
        the same while they are followed (sense: a reach for a wide smash leaves the court)
    nose_heights_m
        least and greatest height of the nose over the feet (rules: a deep crouch, a tall adult)
    """

    margin_found_m: float = 0.15
    margin_followed_m: float = 0.9
    nose_heights_m: tuple[float, float] = (0.5, 2.1)


@dataclass(frozen=True)
class StillnessSettings:
    """Whether a square of the picture still looks the same.

    Attributes
    ----------
    thumbnail_px
        about the size at which squares are compared (measured: performance.md)
    unchanged_levels
        grey levels from which a thumbnail counts as changed (sense: above the noise of compressed
        video)
    whole_factor_from
        least factor that is rounded to a whole number when a square is reduced (measured: a fifth
        of the time; smaller squares changed results, performance.md)
    """

    thumbnail_px: int = 96
    unchanged_levels: float = 16.0
    whole_factor_from: int = 3


@dataclass(frozen=True)
class AppearanceSettings:
    """What a body covers, and the colours worn.

    Attributes
    ----------
    limb_heights
        thickness of arms and legs that are painted over (sense)
    clothed_limb_heights
        the same in loose clothes (tune clips)
    colour_image_px
        longest side of the picture whose colours are counted (sense)
    colour_bins
        of each axis of CIE L*a*b* (measured: accuracy.md; narrow bins fail in a blur)
    colour_blur_bins
        standard deviation of the smoothing (sense: light and blur move colours by a bin or so)
    """

    limb_heights: float = 0.08
    clothed_limb_heights: float = 0.2
    colour_image_px: float = 64.0
    colour_bins: int = 8
    colour_blur_bins: float = 1.0


@dataclass(frozen=True)
class PoseMatchSettings:
    """Whether two poses of a frame are of the same person.

    The last three say when a pose seen past somebody else, painted over, is not made of what was
    left of them in loose clothes. On tune clips poses made of leftovers had covered heads, were at
    most 0.28 heights apart and at least 0.8 covered.

    Attributes
    ----------
    same_person_heights
        trunks nearer than this are of the same person (sense)
    two_people_heights
        trunks farther apart than this are of two people for sure (sense)
    clearly_nearer
        a pose clearly is one of two people's if its distance from the other's is at least so much
        larger, as a ratio of the two (sense)
    apart_heights
        so far apart it is another person if the head shows (tune clips)
    far_apart_heights
        so far apart it is another person anyway (tune clips)
    most_hidden
        part of the body that may be covered at most (tune clips)
    """

    same_person_heights: float = 0.1
    two_people_heights: float = 0.3
    clearly_nearer: float = 0.5
    apart_heights: float = 0.2
    far_apart_heights: float = 0.35
    most_hidden: float = 0.6


@dataclass(frozen=True)
class AssociationSettings:
    """What it costs to give a pose to a player, in metres.

    Attributes
    ----------
    player_height_m
        stands for a pose's height, also where there is no court (rules: a crouching adult)
    colour_cost_m
        what colours that differ altogether cost (sense)
    unsure_colour_share
        what a difference counts from colours that are not sure (sense)
    other_colours
        a greater difference is another person (measured: 0.1 to 0.3 from oneself, 0.35 to 0.5 from
        the partner, accuracy.md)
    most_for_colours_m
        what colours may cost for who is as far away as can be (sense: they must look like the
        player)
    reach_m, reach_speed_m_s, longest_reach_m
        how far a player can come: at once, by the second (rules: a sprint on court), at most
        (rules: across the half)
    depth_share, longest_depth_m
        how much a difference of floor places counts beside the one in the picture, and up to how
        far (sense: along the viewing direction the floor is noisy)
    alone_s, alone_m
        who alone is known on the half, was seen so short a time ago and so near, is the same in any
        colours (rules: nobody else can have come; a shirt's back may differ from its front)
    partner_sides
        a pose nearer than this to where the partner should be may be theirs (sense)
    like_partner, mixed_colours
        near the partner, whose colours are nearer to the partner's by the first is the partner;
        whose are about as near to both, and differ by more than the second, is a mixture of both
        (sense, between the distances measured in accuracy.md)
    """

    player_height_m: float = 1.5
    colour_cost_m: float = 6.0
    unsure_colour_share: float = 0.5
    other_colours: float = 0.5
    most_for_colours_m: float = 1.8
    reach_m: float = 0.9
    reach_speed_m_s: float = 4.0
    longest_reach_m: float = 4.5
    depth_share: float = 0.3
    longest_depth_m: float = 3.0
    alone_s: float = 0.2
    alone_m: float = 0.6
    partner_sides: float = 0.7
    like_partner: float = 0.1
    mixed_colours: float = 0.33


@dataclass(frozen=True)
class PlayerSettings:
    """How long players are remembered, and where they are expected.

    Attributes
    ----------
    lost_s
        who was not seen for so long is lost: no longer looked for in every frame (sense)
    gone_s
        after so long nobody is searched where they were lost any more (sense)
    brief_s
        who was seen for no longer and is lost was a part of somebody else (sense)
    replaced_s
        after so long somebody else may take the place (sense)
    outside_s
        who is seen beside the half for so much longer than on it is no player (sense)
    longest_step_s
        what one observation counts at most in that time (sense)
    motion_step_s
        motion is measured over at least so long (rules: the ups and downs of a step do not count)
    longest_motion_s
        motion is trusted for so long only (rules: who runs one way may stop)
    recent_observations
        of so many the tallest pose says how large a player is (sense: the last one may have been
        half hidden, or a crouch)
    new_colours_share
        how much of a new observation goes into the colours remembered (sense)
    own_colours
        a greater difference is not learned unless both players are seen apart, so that a pose that
        has strayed to the partner does not teach the partner's (measured: accuracy.md)
    covered_sides
        squares nearer than this overlap, so that colours may be mixed up (sense)
    """

    lost_s: float = 0.8
    gone_s: float = 4.0
    brief_s: float = 0.5
    replaced_s: float = 4.0
    outside_s: float = 1.0
    longest_step_s: float = 0.3
    motion_step_s: float = 0.25
    longest_motion_s: float = 0.3
    recent_observations: int = 48
    new_colours_share: float = 0.03
    own_colours: float = 0.3
    covered_sides: float = 0.7


@dataclass(frozen=True)
class ObservationSettings:
    """In which squares players who are followed are observed.

    Attributes
    ----------
    off_centre_sides
        the model looked beside the person if they were so far from where they were in the crop
        before (sense; why it is asked: performance.md)
    other_person_sides
        a pose farther from the middle of its square is another person's (sense)
    wide_factor, wider_factor
        for who is not there, or may be there (measured: small and partly covered people are seen
        far more often in these, accuracy.md)
    in_front_sides
        who is nearer than this to where a player should be may hide them (sense)
    overlapping_sides, past_factor
        players nearer than this are each observed past the other, in squares so much larger (sense)
    """

    off_centre_sides: float = 0.07
    other_person_sides: float = 0.35
    wide_factor: float = 1.6
    wider_factor: float = 2.2
    in_front_sides: float = 0.7
    overlapping_sides: float = 0.5
    past_factor: float = 1.3


@dataclass(frozen=True)
class BackfillSettings:
    """Frames in which only one of two players was seen, kept to be observed again.

    Attributes
    ----------
    most_frames, least_frames, most_bytes
        the latest so many are kept, fewer where they would hold more bytes, but not fewer than the
        least (measured: memory, performance.md)
    step_s
        between frames that are kept (sense: two seconds of a crossing in so many frames)
    start_s
        so long after the first was found (sense), and while the other is lost
    most_misses
        of the player just found, in a row, until the rest is left (sense)
    """

    most_frames: int = 16
    step_s: float = 0.13
    least_frames: int = 4
    most_bytes: int = 100_000_000
    start_s: float = 3.0
    most_misses: int = 2


@dataclass(frozen=True)
class TrackerSettings:
    """All settings; each group says what it is for."""

    half_court: HalfCourtSettings = HalfCourtSettings()
    stillness: StillnessSettings = StillnessSettings()
    appearance: AppearanceSettings = AppearanceSettings()
    pose_match: PoseMatchSettings = PoseMatchSettings()
    association: AssociationSettings = AssociationSettings()
    player: PlayerSettings = PlayerSettings()
    observation: ObservationSettings = ObservationSettings()
    backfill: BackfillSettings = BackfillSettings()
    search: SearchSettings = SearchSettings()
    motion_search: MotionSearchSettings = MotionSearchSettings()
    search_boxes: SearchBoxSettings = SearchBoxSettings()


SETTINGS = TrackerSettings()
