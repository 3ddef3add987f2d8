"""Both defenders of a rendered pair, followed as who they are; a coach beside the court is not."""

import itertools
import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.assessment.options import AnalysisOptions
from stance.court.camera import Camera, project
from stance.people.appearance import body_mask, colours_worn, hidden, middle_colour
from stance.people.candidates import Candidate
from stance.people.landmarker import Landmarker
from stance.people.landmarks import LANDMARKS, Box, Pose, box_around
from stance.people.observation import PoseModels, look_in
from stance.people.player_state import Player, TrackId, exchange_later
from stance.people.pose_history import _AT_HAND, PoseHistory
from stance.people.search_boxes import widened
from stance.people.track import Track
from stance.people.tracker import Tracker
from stance.runtime.spill_file import SpillFile
from stance.video.reader import read_frames
from tests.evaluation.figures import behind_camera, figure
from tests.evaluation.pair_accuracy import Score, score, true_pixels
from tests.paths import DATA

# python -m tests.rendering pair --seed 1 --split tune --view behind --positions 3
# --size 1280x720 --rate 30: somebody moves beside the court.
CLIP = DATA / "pair.mp4"


@pytest.fixture(scope="module")
def pair_score() -> Score:
    return score(CLIP)


def test_both_defenders_are_found_in_nearly_every_frame(pair_score: Score) -> None:
    assert pair_score.found >= 0.99 * pair_score.visible


def test_nobody_is_taken_for_somebody_else(pair_score: Score) -> None:
    assert pair_score.swaps == 0
    assert pair_score.strangers == 0
    assert pair_score.hands == 2


def test_letters_go_from_left_to_right_and_names_go_with_them() -> None:
    found: Analysis = analyse(
        CLIP,
        CLIP.with_suffix(".court.json"),
        AnalysisOptions(hand="right", names={"B": "Mia"}),
    )
    left, right = found.result.players
    assert (left.player, right.player, right.title) == ("A", "B", "Mia (B)")
    assert left.ready_positions[0].base_m[0] < right.ready_positions[0].base_m[0]


def track_of(frames: list[int], unseen: list[int]) -> Track:
    """A track at 30 frames a second whose pixels are the frames' numbers."""
    looks = np.array(frames)
    pixels = np.broadcast_to(looks[:, None, None].astype(float), (len(looks), LANDMARKS, 2)).copy()
    pixels[np.isin(looks, unseen)] = np.nan
    return Track(
        looks,
        looks / 30.0,
        pixels,
        np.ones((len(looks), LANDMARKS)),
        np.zeros((len(looks), LANDMARKS, 3)),
    )


def test_a_track_lies_on_straight_lines_between_its_looks() -> None:
    track = track_of([0, 4, 8, 100], unseen=[8])
    wanted = np.array([0, 1, 4, 5, 8, 50, 100])
    here = track.between(wanted, wanted / 30.0).pixels[:, 0, 0]
    np.testing.assert_allclose(here, [0.0, 1.0, 4.0, np.nan, np.nan, np.nan, 100.0])


def test_who_is_missed_once_is_where_the_looks_before_and_after_say() -> None:
    track = track_of([0, 4, 8, 12, 16, 20], unseen=[4, 12, 16, 20])
    wanted = np.array([2, 4, 6, 8, 10])
    here = track.between(wanted, wanted / 30.0).pixels[:, 0, 0]
    np.testing.assert_allclose(here, [2.0, 4.0, 6.0, 8.0, np.nan])


def player_at(slot: int, x: float, colours: np.ndarray) -> Player:
    """A player who was seen standing at a place a moment ago."""
    return player_seen(slot, colours, 0, pose_at(x))


def player_seen(slot: int, colours: np.ndarray, first_frame: int, *poses: Pose | None) -> Player:
    """A player who was looked at in some frames, a tenth of a second apart."""
    frames = [first_frame + number for number in range(len(poses))]
    return Player(
        TrackId("near", slot),
        slot,
        colours,
        PoseHistory(UNUSED, poses),
        True,
        frames,
        [0.1 * frame for frame in frames],
        last=len(poses) - 1,
    )


@contextmanager
def follower_of(camera: Camera | None, image_size: tuple[int, int]) -> Iterator[Tracker]:
    """A follower of the near half who has seen nothing yet."""
    with (
        ThreadPoolExecutor(1) as workers,
        closing(PoseModels("full")) as landmarkers,
        SpillFile() as aside,
    ):
        yield Tracker(camera, image_size, "near", landmarkers, aside, workers, may_rest=False)


def pose_at(x: float) -> Pose:
    """The pose of a stick figure who stands at a place across the court."""
    joints = figure((x, -4.0))
    return Pose(project(behind_camera(), joints), np.ones(LANDMARKS), joints)


# So few looks are never put there.
UNUSED = SpillFile()
RED, BLUE = np.array([0.75, 0.25]), np.array([0.25, 0.75])


def slots_given(seen: list[tuple[float, np.ndarray]], apart_m: float = 0.3) -> list[int | None]:
    """Slots of two players, in red and blue, who get the poses seen at x in colours."""
    with follower_of(behind_camera(), (1280, 720)) as follower:
        follower.players = [player_at(0, 0.0, RED), player_at(1, apart_m, BLUE)]
        candidates = [Candidate(pose_at(x), np.array([x, -4.0]), worn) for x, worn in seen]
        given = follower._assigned(candidates, 0.1)
        return [
            next((p.landmarker_number for p in follower.players if given.get(p) is candidate), None)
            for candidate in candidates
        ]


@pytest.mark.parametrize(
    ("seen", "slots"),
    [
        ([(0.05, RED), (0.25, BLUE)], [0, 1]),
        ([(0.25, RED), (0.05, BLUE)], [0, 1]),
        ([(0.2, BLUE)], [1]),
        # A second pose on the partner is not the player who is hidden there.
        ([(0.3, BLUE), (0.1, BLUE)], [1, None]),
    ],
)
def test_where_players_cross_their_clothes_tell_who_is_who(
    seen: list[tuple[float, np.ndarray]], slots: list[int | None]
) -> None:
    assert slots_given(seen) == slots


@pytest.mark.parametrize(
    ("apart_m", "clear"),
    [
        ((), True),  # Alone.
        ((0.5,), False),
        ((4.0,), True),
        ((4.0, 4.3), False),  # One of them was lost, or is the one who came in their place.
    ],
)
def test_it_is_plain_who_is_who_while_nobody_is_near_somebody_else(apart_m, clear) -> None:
    with follower_of(behind_camera(), (1280, 720)) as follower:
        follower.players = [player_at(slot, x, RED) for slot, x in enumerate((0.0, *apart_m))]
        assert follower.players_apart == clear


def test_who_stands_beside_the_partner_is_the_player_whatever_they_seem_to_wear() -> None:
    assert slots_given([(0.0, BLUE), (0.9, BLUE)], apart_m=0.9) == [0, 1]


def test_how_large_a_player_is_is_known_however_long_he_is_missed() -> None:
    player = player_at(0, 0.0, RED)
    side = player.largest_side
    for frame in itertools.islice(read_frames(CLIP), 1, 40):
        player.add(frame, None)
    assert player.largest_side == side


class Composed:
    """A picture put together for a test, as a frame gives its parts."""

    def __init__(self, image: np.ndarray) -> None:
        self.image, self.size = image, (image.shape[1], image.shape[0])

    def crop(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        return np.ascontiguousarray(self.image[top:bottom, left:right])


def two_in_line() -> tuple[Composed, Pose, float]:
    """A defender of the clip who stands once more, half hidden, behind themselves.

    Returns the picture, the pose of the one in front, and how far to the right the other one
    stands, pixels.
    """
    joints = true_pixels(json.loads(CLIP.with_suffix(".truth.json").read_text()))[0][0, 0]
    frame = next(read_frames(CLIP))
    with Landmarker("full") as landmarker:
        pose = look_in(landmarker, frame, widened(box_around(joints), 1.2))[0]
    body = body_mask(frame.image.shape[:2], [pose.pixels], 0.15)
    shift = round(0.35 * float(np.ptp(pose.pixels[:, 1])))
    image = frame.image.copy()
    behind = np.roll(body, shift, axis=1) & ~body
    image[behind] = np.roll(frame.image, shift, axis=1)[behind]
    return Composed(image), pose, float(shift)


def test_who_stands_behind_the_partner_is_seen_past_them() -> None:
    picture, front, shift = two_in_line()
    square = widened(front.box, 1.3)
    with Landmarker("full", people=3) as landmarker:
        seen = [
            pose
            for pose in look_in(landmarker, picture, square, [front])
            if hidden(pose, [front])[0] < 0.6
        ]
    height = float(np.ptp(front.pixels[:, 1]))
    away = [np.abs((p.pixels - front.pixels)[:, 0].mean() - shift) for p in seen]
    assert away
    assert min(away) < 0.12 * height


def test_two_of_whom_one_stands_before_the_other_are_each_seen_where_they_are() -> None:
    picture, pose, shift = two_in_line()
    places = pose, pose.moved(shift, -0.1 * shift)
    picture.time_s = 0.1
    with follower_of(None, picture.size) as follower:
        players = [player_seen(slot, RED, 0, place) for slot, place in enumerate(places)]
        seen = follower._looked_past(picture, players)
    middles = np.array([candidate.pose.pixels.mean(axis=0) for candidate in seen])
    wanted = np.array([pose.pixels.mean(axis=0), pose.moved(shift, 0.0).pixels.mean(axis=0)])
    assert len(middles) == 2
    assert np.linalg.norm(middles - wanted, axis=1).max() < 0.12 * np.ptp(pose.pixels[:, 1])


def test_who_is_found_behind_the_partner_is_seen_in_the_frames_before_too() -> None:
    picture, front, shift = two_in_line()
    picture.index, picture.time_s = 0, 0.0
    with follower_of(None, picture.size) as follower:
        partner = player_seen(0, RED, 0, front, front)
        behind = player_seen(1, BLUE, 1, front.moved(shift, -0.1 * shift))
        follower._one_seen.append(picture)
        follower._look_back(behind, partner)
    assert (behind.frames, behind.last) == ([0, 1], 1)
    assert behind.poses[0] is not None
    away = behind.poses[0].pixels.mean(axis=0) - front.pixels.mean(axis=0) - (shift, 0.0)
    assert np.linalg.norm(away) < 0.12 * np.ptp(front.pixels[:, 1])


def test_who_was_followed_keeps_their_looks_though_the_model_went_over_to_the_partner() -> None:
    picture, front, shift = two_in_line()
    picture.index, picture.time_s = 1, 0.1
    rear = front.moved(shift, -0.1 * shift)
    with follower_of(None, picture.size) as follower:
        followed = player_seen(0, RED, 0, front, front, rear)
        found = player_seen(1, BLUE, 2, front)
        follower._one_seen.append(picture)
        follower._look_back(found, followed)
    wanted = front.pixels.mean(axis=0)
    places = [pose.pixels.mean(axis=0) - wanted for pose in followed.poses if pose is not None]
    height = np.ptp(front.pixels[:, 1])
    assert (followed.frames, followed.last) == ([0, 1, 2], 2)
    assert np.linalg.norm(places, axis=1).max() < 0.12 * height
    assert (found.frames, found.last) == ([1, 2], 1)
    assert found.poses[-1] is rear


def test_two_players_who_exchange_their_later_looks_twice_are_as_before() -> None:
    frames = list(itertools.islice(read_frames(CLIP), 6))
    one, two = player_at(0, 0.0, RED), player_at(1, 1.0, BLUE)
    for frame in frames[1:]:
        one.add(frame, pose_at(0.1))
        two.add(frame, pose_at(0.9) if frame.index < 4 else None)
    before = [(list(p.frames), list(p.poses), p.landmarker_number, p.last) for p in (one, two)]
    assert (one.times_seen, two.times_seen) == (6, 4)
    exchange_later(one, two, frames[2])
    assert list(one.poses) == before[0][1][:3] + before[1][1][3:]
    assert (one.landmarker_number, one.last, two.last) == (1, 3, 5)
    assert (one.times_seen, two.times_seen) == (4, 6)
    one.put_earlier(frames[4], pose_at(0.5))
    assert one.times_seen == 5
    one.poses[4], one.last, one.times_seen = None, 3, 4
    exchange_later(one, two, frames[2])
    assert [(p.frames, list(p.poses), p.landmarker_number, p.last) for p in (one, two)] == before


def test_poses_of_long_ago_are_put_aside_and_come_back_as_they_were() -> None:
    with SpillFile() as aside:
        poses = PoseHistory(aside)
        given = [None if number % 7 == 3 else pose_at(0.01 * number) for number in range(150)]
        # A player at rest keeps the pose.
        given[20:40] = [given[20]] * 20
        given += [given[-1]] * 150
        for pose in given:
            poses.append(pose)
            if pose is not None:
                poses.put_aside(pose)
        at_hand = [entry for entry in poses._entries if isinstance(entry, Pose)]
        assert all(entry is given[-1] for entry in at_hand[:-_AT_HAND])
        assert len({id(entry) for entry in at_hand}) == 1
        back = list(poses)
        assert [pose is not None for pose in back] == poses.seen
        assert len(set(poses._entries[20:40])) == 1
        for pose, wanted in zip(back, given, strict=True):
            assert (pose is None) == (wanted is None)
            if pose is not None and wanted is not None:
                np.testing.assert_array_equal(pose.pixels, wanted.pixels)
                np.testing.assert_array_equal(pose.world, wanted.world)
                np.testing.assert_array_equal(pose.visibility, wanted.visibility)
        assert poses[-1] is given[-1]
        assert [pose is None for pose in poses[2:5]] == [False, True, False]


def test_players_keep_their_own_poses_though_those_put_aside_are_exchanged() -> None:
    with SpillFile() as aside:
        mine, theirs = (
            PoseHistory(aside, [pose_at(side + 0.001 * number) for number in range(length)])
            for side, length in ((-1.0, 200), (1.0, 300))
        )
        places = [
            [pose.pixels[0, 0] for pose in poses if pose is not None] for poses in (mine, theirs)
        ]
        for poses in (mine, theirs):
            last = poses[-1]
            assert last is not None
            poses.put_aside(last)
        mine.exchange(50, theirs, 150)
        mine.put_aside(pose_at(0.0))
        wanted = places[0][:50] + places[1][150:], places[1][:150] + places[0][50:]
        for poses, those in zip((mine, theirs), wanted, strict=True):
            assert [pose.pixels[0, 0] for pose in poses if pose is not None] == those


def test_a_pose_is_mended_back_to_where_a_long_rest_began() -> None:
    resting = pose_at(0.0)
    with SpillFile() as aside:
        player = Player(TrackId("near", 0), 0, RED, PoseHistory(aside))
        frames = [Composed(np.zeros((4, 4, 3), np.uint8)) for _ in range(3 * _AT_HAND)]
        for number, frame in enumerate(frames):
            frame.index, frame.time_s = number, 0.1 * number
            player.add(frame, pose_at(-1.0) if number < 5 else resting)
        better = pose_at(0.1)
        player.mend(better)
        assert all(pose is better for pose in player.poses[5:])
        assert not any(pose is better for pose in player.poses[:5])


def test_a_player_in_the_place_of_one_who_has_gone_is_another() -> None:
    picture = Composed(next(read_frames(CLIP)).image)
    picture.index, picture.time_s = 300, 10.0
    with follower_of(behind_camera(), (1280, 720)) as follower:
        gone, here = player_at(0, 0.0, RED), player_at(0, 0.3, RED)
        gone.add(picture, None)
        here.add(picture, pose_at(0.3))
        follower.players = [gone, here]
        follower._keep_or_look_back(picture, [gone, here])
        assert not follower._one_seen


@pytest.mark.parametrize(
    ("x", "worn", "welcome"),
    [
        (0.05, RED, False),  # the same person seen once more
        (0.05, BLUE, False),  # covered by the one who is known
        (0.35, RED, False),
        (0.35, BLUE, True),
        (1.5, RED, True),
    ],
)
def test_somebody_new_is_not_the_player_who_is_known_once_more(
    x: float, worn: np.ndarray, welcome: bool
) -> None:
    picture = Composed(next(read_frames(CLIP)).image)
    picture.index, picture.time_s = 1, 0.1
    with follower_of(behind_camera(), (1280, 720)) as follower:
        follower.players = [player_at(0, 0.0, RED)]
        follower.players[0].add(picture, pose_at(0.0))
        follower._welcome(Candidate(pose_at(x), np.array([x, -4.0]), worn), picture)
    assert len(follower.players) == 1 + welcome


@pytest.mark.parametrize(("x", "stays"), [(2.8, True), (3.6, False)])
def test_who_stands_beside_the_court_takes_no_players_place(
    x: float, stays: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    with follower_of(behind_camera(), (1280, 720)) as follower:
        follower.players = [player_at(0, x, RED)]
        seen = Candidate(pose_at(x), np.array([x, -4.0]), RED)
        monkeypatch.setattr(follower, "_looked_again", lambda frame, followed: [seen])
        monkeypatch.setattr(follower, "_searched", lambda *_: [])
        monkeypatch.setattr(follower, "_searched_behind", lambda *_: [])
        for frame in itertools.islice(read_frames(CLIP), 1, 40):
            follower.step(frame)
    assert bool(follower.players) == stays


def test_frames_that_show_one_of_two_are_kept_while_the_other_is_lost() -> None:
    frames = list(itertools.islice(read_frames(CLIP), 40))
    with follower_of(behind_camera(), (1280, 720)) as follower:
        seen, lost = player_at(0, 0.0, RED), player_at(1, 1.0, BLUE)
        follower.players = [seen, lost]
        for frame in frames[1:]:
            seen.add(frame, pose_at(0.0))
            lost.add(frame, None)
            follower._keep_or_look_back(frame, [seen, lost])
        assert [f.index for f in follower._one_seen] == [f.index for f in frames[-16:]]
        follower.release_frames()
        assert not follower._one_seen


@given(st.data())
def test_the_middle_colour_is_numpys_median(data: st.DataObject) -> None:
    shape = data.draw(st.tuples(st.integers(1, 9), st.integers(1, 9)))
    image = data.draw(arrays(np.uint8, (*shape, 3)))
    where = data.draw(arrays(bool, shape).filter(np.any))
    np.testing.assert_array_equal(middle_colour(image, where), np.median(image[where], axis=0))


def test_what_the_partner_covers_says_nothing_of_the_colours_behind() -> None:
    picture, front, shift = two_in_line()
    behind = front.moved(shift, 0.0)
    image = picture.image.copy()
    image[body_mask(image.shape[:2], [front.pixels])] = (255, 0, 255)
    plain, masked = (colours_worn(Composed(image), behind, others) for others in ((), (front,)))
    alone = colours_worn(picture, front)
    distance = [np.sqrt(max(1.0 - np.sqrt(alone * seen).sum(), 0.0)) for seen in (plain, masked)]
    assert distance[1] < distance[0]


def test_a_body_is_hidden_by_one_in_front_and_not_by_one_beside_it() -> None:
    pose = pose_at(0.0)
    assert hidden(pose, [pose]) == (1.0, True)
    assert hidden(pose, [pose_at(1.5)]) == (0.0, False)
    share, nose = hidden(pose, [pose_at(0.35)])
    assert 0.0 < share < 1.0
    assert not nose


def test_a_new_players_colours_are_not_sure_until_seen_in_full() -> None:
    with follower_of(behind_camera(), (1280, 720)) as follower:
        follower.players = [player_at(0, 0.0, RED)]
        frame = next(read_frames(CLIP))
        follower._welcome(Candidate(pose_at(0.2), np.array([0.2, -4.0]), BLUE), frame)
        assert [p.colours_sure for p in follower.players] == [True, False]


def test_a_place_seen_empty_need_not_be_searched_again_until_it_changes() -> None:
    picture = Composed(next(read_frames(CLIP)).image)
    picture.crop_grey = lambda *edges: picture.crop(*edges)[..., 1]
    square = Box(200.0, 200.0, 150.0)
    with follower_of(behind_camera(), (1280, 720)) as follower:
        assert not follower._known_empty(picture, square)
        follower._note_empty(picture, [square])
        assert follower._known_empty(picture, Box(204.0, 198.0, 155.0))
        assert not follower._known_empty(picture, Box(260.0, 200.0, 150.0))
        picture.image = picture.image.copy()
        picture.image[240:320, 240:300] = 255 - picture.image[240:320, 240:300]
        assert not follower._known_empty(picture, square)
