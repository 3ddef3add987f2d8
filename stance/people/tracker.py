"""Follow the players of a half court through a clip, each with one identity.

A few times a second every player is looked at in the square around where they should be by now.
PoseHistory are given to players all at once (`scipy.optimize.linear_sum_assignment`) by their place
on the floor, their motion and the colours of shirt and shorts, so that a crossing, a reach, a
partner in front or a short absence does not change who is who. Who stands before or behind the
partner is looked at past them, painted over. New players are looked for everywhere at the start,
then where something moves on the half court and behind who is known; once both are known, the last
looks that showed one of them are made once more.
"""

from collections import deque
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from itertools import combinations

import numpy as np
import scipy

from stance.court.camera import Camera
from stance.people.appearance import colour_distance, colours_worn
from stance.people.association import (
    better_pose,
    different_candidates,
    nearest_candidate,
    same_person,
    told_apart,
    trunks_apart,
    two_people,
)
from stance.people.candidates import Anchor, Candidate, EmptyPlace
from stance.people.floor import base_on_floor
from stance.people.half_court import MARGIN_FOLLOWED, MARGIN_FOUND, on_half, stands_on_half
from stance.people.landmarks import Box, Pose, box_around
from stance.people.observation import PoseModels, look_in, map_concurrently
from stance.people.player_state import HIPS, LOST, Player, TrackId, exchange_later
from stance.people.pose_history import PoseHistory
from stance.people.search import MotionSearch
from stance.people.search_boxes import closer_box, search_boxes, search_near, widened
from stance.people.settings import MOST_PLAYERS
from stance.people.stillness import body_thumbnail, last_alike, same_thumbnail
from stance.runtime.spill_file import SpillFile
from stance.types import FloatArray
from stance.video.frame import Frame

# The model looks at a region that is off by this part of the square's side: beside the person.
_BESIDE = 0.07

# A pose further from the middle of the square it was looked for in than this part of its side
# is another person's.
_JUMP = 0.35

# Squares in which to look for one who is not there, or who may be there, against the usual one:
# small and partly covered people are seen far more often in these (docs/accuracy.md).
_WIDE, _WIDER = 1.6, 2.2

# Between two looks a player who hardly moved is looked for this near to the line between them.
_NEAR_LINE = 0.15

# What a difference in colours costs, in metres, and how far a player can come: metres at once
# and metres a second (a sprint on court), up to across the half.
_COLOUR_METRES = 6.0

_REACH_AT_ONCE, _REACH_SPEED, _LONGEST_REACH = 0.9, 4.0, 4.5

# How much a difference of floor places counts beside the one in the picture, up to how far.
_DEPTH_SHARE, _MOST_DEPTH = 0.3, 3.0

# Players whose squares' middles are nearer than this part of the side are looked at past each
# other, in squares so much larger than the usual one.
_OVERLAPPING, _PAST = 0.5, 1.3

# A person is somebody else if the colours differ by more than this (Hellinger distance).
_OTHER_COLOURS = 0.5

# Who is as far away as can be must look like the player: metres that colours may cost then.
_MOST_FOR_COLOURS = 1.8

# Near the partner, whose colours are nearer to the partner's by this is the partner; whose are
# about as near to both, and differ by more than that, is a mixture of both.
_LIKE_PARTNER, _UNSURE_COLOURS = 0.1, 0.33

# What a difference counts from colours that are not sure.
_UNSURE_SHARE = 0.5

# Players whose squares' middles are nearer than this part of the side may be crossing; further
# apart than the second, nobody takes the one for the other.
_CROSSING, _CLEAR = 0.4, 1.0

# Who is nearer than this part of the side to where a player should be may hide them.
_IN_FRONT = 0.7

# How much of a new look goes into the remembered colours, if these differ by no more than one's
# own do, or both players are seen apart: a look that has strayed to the partner does not teach the
# partner's.
_COLOUR_SHARE, _OWN_COLOURS = 0.1, 0.3

# Height that stands for a player where there is no court, metres.
_PLAYER_METRES = 1.5

# Who is seen beside the half for so many seconds more than on it is no player; a look counts for so
# many seconds at most.
_MOST_OUTSIDE, _LONGEST_LOOK = 1.0, 0.3

# After so many seconds nobody is searched where they were lost any more.
_GONE = 4.0

_REPLACED = 4.0

# Seconds between searches for a missing player, doubled after each that finds nobody.
_SEARCH_PAUSE, _LONGEST_PAUSE = 0.25, 1.0

# Without anybody known the whole half is searched; this pause is doubled up to the longest.
_WHOLE_PAUSE, _LONGEST_WHOLE_PAUSE = 0.5, 8.0

# The latest frames in which only one of two players was seen are kept, in the first seconds of that
# one and while the other is lost, to be looked at once more when the other is found, until that
# fails so many times: at most so many, and fewer where they hold more than so many bytes.
_MOST_KEPT, _KEPT_BYTES, _START, _MISSED_BACK = 16, 100_000_000, 3.0, 2

# Behind a player who is followed somebody is looked for, in squares so much larger in turn, after
# pauses that grow by a quarter up to the longest. One look in two or three finds who is there.
_BEHIND_FACTORS = (1.6, 1.3, 2.0)

_BEHIND_PAUSE, _BEHIND_GROWTH, _LONGEST_BEHIND_PAUSE = 0.12, 1.25, 8.0

# Places remembered in which something seems to move and nobody was seen.
_MOST_EMPTY = 12


class Tracker:
    """Follows the players of one half.

    Parameters
    ----------
    camera : Camera or None
        In the frame of the half; without it the one largest person is followed.
    image_size : (width, height) pixels
    half : "near" or "far"
    landmarkers : of the run
    aside : where poses of long ago are put
    workers : looks at the players at the same time; what it finds does not depend on it
    may_rest : whether a player whose square has not changed keeps the pose without a look
    """

    def __init__(
        self,
        camera: Camera | None,
        image_size: tuple[int, int],
        half: str,
        landmarkers: PoseModels,
        aside: SpillFile,
        workers: Executor,
        may_rest: bool,
    ) -> None:
        self.camera = camera
        self.may_rest = may_rest
        self.half = half
        self.players: list[Player] = []
        self._tracks_started = 0
        self._landmarkers = landmarkers
        self._aside = aside
        self._workers = workers
        self._everywhere = search_boxes(camera, image_size)
        self._most = MOST_PLAYERS if camera is not None else 1
        self._pause, self._search_at = _SEARCH_PAUSE, 0.0
        # Where something moved and nobody was seen: to be looked at once more.
        self._suspected: list[Box] = []
        self._empty: list[EmptyPlace] = []
        self._one_seen: deque[Frame] = deque(
            maxlen=int(np.clip(_KEPT_BYTES // (3 * image_size[0] * image_size[1]), 4, _MOST_KEPT))
        )
        self._behind_pause, self._behind_at, self._behind_tries = _BEHIND_PAUSE, 0.0, 0
        self._whole_pause, self._whole_at = _WHOLE_PAUSE, 0.0
        self._motion = None if camera is None else MotionSearch(camera, image_size)

    def step(self, frame: Frame) -> None:
        """Look for all players in the next frame."""
        now = frame.time_s
        followed = [p for p in self.players if now - p.seen_at <= LOST]
        candidates: list[Candidate] = []
        given: dict[Player, Candidate] = {}

        def note(more: Sequence[Candidate]) -> None:
            nonlocal given
            if more:
                candidates.extend(more)
                given = self._assigned(different_candidates(candidates), now)

        # Beside the looks, which take longer.
        background = (
            None if self._motion is None else self._workers.submit(self._motion.watch, frame)
        )
        note(self._looked_again(frame, followed))
        if background is not None:
            background.result()
        missed = [player for player in followed if player not in given]
        if missed:
            note(self._looked_wider(frame, missed, given))
        if len(followed) < self._most and now >= self._search_at:
            note(self._searched(frame, followed, candidates))
        elif any(player not in given for player in missed):
            note(self._where_it_moves(frame, candidates))
        if len(followed) < self._most:
            note(self._searched_behind(frame, different_candidates(candidates)))
        for player in self.players:
            if player in given and now - player.seen_at > LOST:
                self._whole_pause, self._whole_at = _WHOLE_PAUSE, now
            pose = given[player].pose if player in given else None
            if pose is not None and pose is not player.last_pose and self._in_doubt(player, frame):
                player.mend(pose)
            if (
                pose is not None
                and self.may_rest
                and (player.anchor is None or player.anchor.pose is not pose)
            ):
                picture = body_thumbnail(frame, pose.box)
                player.anchor = (
                    None if picture is None else Anchor(pose, picture, given[player].sure)
                )
            player.add(frame, pose)
            if pose is not None and self.camera is not None:
                since = min(player.times[-1] - player.times[-2], _LONGEST_LOOK)
                inside = on_half(given[player].place, MARGIN_FOUND)
                player.outside += -since if inside else since
        # Who mostly stands beside the court is no player, and takes no player's place.
        self.players = [p for p in self.players if p.outside <= _MOST_OUTSIDE]
        known = [player for player in self.players if player in given]
        for candidate in different_candidates(candidates):
            if not any(candidate is other for other in given.values()):
                self._welcome(candidate, frame)
        self._keep_or_look_back(frame, known)
        both = len(given) == MOST_PLAYERS and two_people(*(c.pose for c in given.values()))
        for player in self.players:
            # Looking back may have given the look to the other one.
            mine = player in given and given[player].pose is player.last_pose
            if mine and (both or not self._covered(player)):
                differ = colour_distance(player.colours, given[player].colours)
                if player.colours_sure and differ > _OWN_COLOURS and not both:
                    continue
                share = _COLOUR_SHARE if player.colours_sure else 1.0
                player.colours = (1 - share) * player.colours + share * given[player].colours
                player.colours_sure = True

    @property
    def needs_frequent_frames(self) -> bool:
        """Whether the next look should come soon: somebody was just missed, or players cross."""
        followed = [p for p in self.players if p.times[-1] - p.seen_at <= LOST]
        boxes = [p.last_pose.box for p in followed]
        return any(p.seen_at < p.times[-1] for p in followed) or (
            len(boxes) == 2 and closer_box(boxes[0], boxes[1], _CROSSING)
        )

    @property
    def players_apart(self) -> bool:
        """Whether it is plain who is who: nobody is near somebody else."""
        boxes = [player.last_pose.box for player in self.players]
        return not any(closer_box(one, two, _CLEAR) for one, two in combinations(boxes, 2))

    def somebody_settled(self, frame: Frame) -> bool:
        """Whether somebody has come to rest since the last look, as glances at the squares say."""
        return any([self._comes_to_rest(player, frame) for player in self.players])

    def _comes_to_rest(self, player: Player, frame: Frame) -> bool:
        """Whether a square is as at the last glance, but not as at the last look."""
        anchor = player.anchor
        if not self.may_rest or anchor is None or anchor.pose is not player.last_pose:
            return False
        picture = body_thumbnail(frame, anchor.pose.box)
        if picture is None:
            return False
        before = player.glance
        if before is None or before.pose is not anchor.pose:
            before = anchor
        player.glance = Anchor(anchor.pose, picture)
        return same_thumbnail(picture, before.picture) and not same_thumbnail(
            picture, anchor.picture
        )

    def note_rest(self, player: Player, first: int, frames: Sequence[Frame]) -> bool:
        """Note until when a player stays as in a look, and from when as in the next one.

        Parameters
        ----------
        player : one of `players`
        first : number of the first look; the player is seen in both
        frames : from the frame of the first look to that of the next

        Returns
        -------
        Whether there was anything to note
        """
        start, end = player.poses[first], player.poses[first + 1]
        assert start is not None and end is not None
        left, arrived = last_alike(frames, start), last_alike(frames[::-1], end)
        if arrived is not None and (left is None or left.index < arrived.index):
            player.put_earlier(arrived, end)
        if left is not None:
            player.put_earlier(left, start)
        return left is not None or arrived is not None

    def observe_between(self, player: Player, first: int, frames: Sequence[Frame]) -> None:
        """Look at frames between a look and the next, in both of which the player is seen.

        Parameters
        ----------
        player : one of `players`
        first : number of the look before the frames
        frames : in the clip's order
        """
        start, end = player.poses[first], player.poses[first + 1]
        times = player.times[first], player.times[first + 1]
        assert start is not None and end is not None
        landmarker = self._landmarkers.steady(self.half, player.landmarker_number)
        for frame in frames:
            share = (frame.time_s - times[0]) / (times[1] - times[0])
            pixels = start.pixels + share * (end.pixels - start.pixels)
            box = box_around(pixels)
            for pose in look_in(landmarker, frame, box):
                if trunks_apart(pose.pixels, pixels) <= _NEAR_LINE * box.side and (
                    self.camera is None or stands_on_half(self.camera, pose.pixels, MARGIN_FOLLOWED)
                ):
                    player.put_earlier(frame, pose)

    def _looked_again(self, frame: Frame, followed: Sequence[Player]) -> list[Candidate]:
        """Look at each player around where they should be, unless they have not moved at all."""
        still = [
            player
            for player in followed
            if not self._covered(player) and self._unchanged(player, frame)
        ]
        again = [player for player in still if self._in_doubt(player, frame)]
        resting = [self._resting(player) for player in still if player not in again]
        for player in again:
            box = player.last_pose.box
            resting += self._counting(
                frame, look_in(self._landmarkers.finder, frame, box), box, MARGIN_FOLLOWED
            ) or [self._resting(player)]
        followed = [player for player in followed if player not in still]
        if len(followed) == MOST_PLAYERS:
            one, two = (player.expected(frame.time_s) for player in followed)
            if closer_box(one, two, _OVERLAPPING):
                return resting + self._looked_past(frame, followed)
        looked = map_concurrently(
            self._workers, lambda player: self._looked_steadily(frame, player), followed
        )
        return resting + [candidate for some in looked for candidate in some]

    def _looked_steadily(self, frame: Frame, player: Player) -> list[Candidate]:
        """Look at a player around where they should be, with the model that follows them."""
        box = player.expected(frame.time_s)
        poses = look_in(self._landmarkers.steady(self.half, player.landmarker_number), frame, box)
        found = self._counting(frame, poses, box, MARGIN_FOLLOWED)
        return [self._judged(player, box, candidate) for candidate in found]

    def _looked_past(self, frame: Frame, followed: Sequence[Player]) -> list[Candidate]:
        """Look at two players of whom one may stand before the other, each past the other.

        The model would take arms and legs of the one for the other's.
        """
        now = frame.time_s
        front, rear = sorted(followed, key=lambda player: -player.lowest)
        nearer, farther = front.expected_pose(now), rear.expected_pose(now)
        found = self._look_past(frame, nearer, [farther], in_front=True)
        found = found or self._looked_steadily(frame, front)
        nearer = nearest_candidate(found, nearer) or nearer
        behind = self._look_past(frame, farther, [nearer])
        behind = behind or [
            replace(candidate, colours=colours_worn(frame, candidate.pose, [nearer]))
            for candidate in self._looked_steadily(frame, rear)
            if told_apart(candidate.pose, [nearer], farther)
        ]
        return found + behind

    def _look_past(
        self, frame: Frame, expected: Pose, others: Sequence[Pose], in_front: bool = False
    ) -> list[Candidate]:
        """Look for somebody where they are expected, in front of others or past them."""
        box = expected.box
        poses = look_in(
            self._landmarkers.finder,
            frame,
            widened(box, _PAST),
            others,
            expected if in_front else None,
        )
        return self._counting(
            frame, poses, box, MARGIN_FOLLOWED, () if in_front else others, expected
        )

    def _keep_or_look_back(self, frame: Frame, known: Sequence[Player]) -> None:
        """Keep a frame in which one of two was seen; look at those kept once both are.

        Parameters
        ----------
        frame : in which players have just been seen
        known : those of them who were players before
        """
        seen = [player for player in self.players if player.pose_at(frame.index) is not None]
        if len(seen) == MOST_PLAYERS:
            for player, partner in (seen, seen[::-1]):
                if player not in known or player.poses[-2] is None:
                    self._look_back(player, partner)
        elif (
            len(seen) == 1
            and self._most == MOST_PLAYERS
            and (
                frame.time_s - seen[0].times[0] <= _START
                or any(frame.time_s - p.seen_at <= _GONE for p in self.players if p not in seen)
            )
        ):
            self._one_seen.append(frame)
            return
        self._one_seen.clear()

    def _look_back(self, player: Player, partner: Player) -> None:
        """See who was just found in the frames before, past the partner, and the partner past them.

        While only one of the two was known, what was seen of one may be partly the other's.
        """
        mine, theirs = player.last_pose, partner.last_pose
        in_front = player.lowest > partner.lowest
        missed = 0
        for frame in reversed(self._one_seen):
            known = partner.pose_at(frame.index)
            if known is None or player.pose_at(frame.index) is not None or missed == _MISSED_BACK:
                break
            here, there = self._both(frame, mine, theirs, known, in_front)
            new = player.frames[0] > frame.index
            if new and here is not None and better_pose(known, here, there or theirs):
                # Who was followed until here is the one just found: their looks went over.
                exchange_later(player, partner, frame)
                partner.put_earlier(frame, here)
                mine, theirs, in_front = there or theirs, here, not in_front
                if there is not None:
                    player.put_earlier(frame, there)
                continue
            # A partner at rest keeps the pose: another look would seem to be a motion.
            theirs = known if there is None or same_person(there, known) else there
            if here is None or same_person(here, theirs):
                missed += 1
                continue
            mine, missed = here, 0
            player.put_earlier(frame, mine)
            partner.put_earlier(frame, theirs)

    def _both(
        self, frame: Frame, mine: Pose, theirs: Pose, known: Pose, in_front: bool
    ) -> tuple[Pose | None, Pose | None]:
        """See two people in an earlier frame, of whom the poses a moment later are known.

        Parameters
        ----------
        frame : Frame
        mine, theirs : poses a moment later
        known : of the other, in this frame, as it was seen then
        in_front : whether the one stands nearer to the camera than the other

        Returns
        -------
        The pose of the one and, if both are near each other, that of the other; None if not seen
        """
        if not closer_box(mine.box, known.box, _OVERLAPPING):
            return nearest_candidate(self._look_past(frame, mine, [known]), mine), None
        if in_front:
            here = nearest_candidate(self._look_past(frame, mine, [known], in_front=True), mine)
            return here, here and nearest_candidate(self._look_past(frame, theirs, [here]), theirs)
        there = nearest_candidate(self._look_past(frame, theirs, [mine], in_front=True), theirs)
        return nearest_candidate(self._look_past(frame, mine, [there or known]), mine), there

    def release_frames(self) -> None:
        """Let go of the frames kept to be looked at once more."""
        self._one_seen.clear()

    def _looked_wider(
        self, frame: Frame, missed: Sequence[Player], given: Mapping[Player, Candidate]
    ) -> list[Candidate]:
        """Look further around players: who runs comes further than the usual square.

        Whoever else is seen there may stand in front, so they are looked past too.
        """
        found = []
        for player in missed:
            expected = player.expected_pose(frame.time_s)
            box = expected.box
            side = player.largest_side
            wide, wider = (widened(box, factor * side / box.side) for factor in (_WIDE, _WIDER))
            others = [c.pose for c in given.values() if closer_box(c.pose.box, wide, _IN_FRONT)]
            looks = [(wide, others), (wider, others)] + ([(wider, [])] if others else [])
            for square, past in looks:
                poses = look_in(self._landmarkers.finder, frame, square, past)
                found += self._counting(frame, poses, square, MARGIN_FOLLOWED, past, expected)
        return found

    def _unchanged(self, player: Player, frame: Frame) -> bool:
        """Whether a player's square looks as it did when the last pose was seen in it."""
        anchor = player.anchor
        if not self.may_rest or anchor is None or anchor.pose is not player.last_pose:
            return False
        picture = body_thumbnail(frame, anchor.pose.box)
        return picture is not None and same_thumbnail(picture, anchor.picture)

    def _in_doubt(self, player: Player, frame: Frame) -> bool:
        """Whether a player has kept still since a look that went beside them."""
        return (
            player.anchor is not None and not player.anchor.sure and self._unchanged(player, frame)
        )

    @staticmethod
    def _judged(player: Player, box: Box, candidate: Candidate) -> Candidate:
        """Tell whether the model looked where the person is: where it saw them in the last crop."""
        here = candidate.pose.box
        region = (
            (here.x + here.side / 2 - box.x) / box.side,
            (here.y + here.side / 2 - box.y) / box.side,
        )
        away = max(abs(one - two) for one, two in zip(region, player.region, strict=True))
        player.region = region
        return replace(candidate, sure=away <= _BESIDE)

    def _resting(self, player: Player) -> Candidate:
        """A player who has not moved, as seen before."""
        return Candidate(player.last_pose, self._last_place(player), player.colours)

    def _last_place(self, player: Player) -> FloatArray:
        """Where a player was last seen: on the floor or, without a court, in the picture."""
        pose = player.last_pose
        if player.place is None or player.place[0] is not pose:
            player.place = (
                pose,
                (
                    pose.pixels[HIPS].mean(axis=0)
                    if self.camera is None
                    else base_on_floor(self.camera, pose.pixels)
                ),
            )
        return player.place[1]

    def _searched(
        self, frame: Frame, followed: Sequence[Player], seen: Sequence[Candidate]
    ) -> list[Candidate]:
        """Look for missing players near where they were lost and where something moves."""
        now = frame.time_s
        boxes: list[Box] = []
        proposals: list[Box] = []
        lost = [p for p in self.players if LOST < now - p.seen_at <= _GONE]
        if (not followed or lost) and now >= self._whole_at:
            boxes += self._everywhere
            self._whole_at = now + self._whole_pause
            self._whole_pause = min(2 * self._whole_pause, _LONGEST_WHOLE_PAUSE)
        else:
            if self._motion is not None:
                proposals = [
                    box
                    for box in self._motion.proposals([p.last_pose.box for p in followed])
                    if not self._known_empty(frame, box)
                ]
                boxes += self._suspected + [widened(box, _WIDE) for box in proposals]
                # Who is not seen at first is often seen from a little farther away.
                self._suspected = (
                    [] if self._suspected else [widened(box, _WIDER) for box in proposals]
                )
            for player in lost:
                place = player.last_pose.pixels[HIPS].mean(axis=0)
                boxes += search_near(self._everywhere, place, 2)
        found = self._found_in(frame, boxes, [c.pose for c in seen])
        # Who is followed and seen once more is not who was searched.
        new = [c for c in found if not any(same_person(c.pose, s.pose) for s in seen)]
        if new:
            self._suspected = []
        else:
            self._note_empty(frame, proposals)
        missed = len(new) == 0 or (self.camera is not None and not self.players)
        if not missed:
            self._pause = _SEARCH_PAUSE
        elif boxes:
            self._pause = min(2 * self._pause, _LONGEST_PAUSE)
        if self._suspected:
            self._search_at = now
        else:
            self._search_at = now + (self._pause if boxes else _SEARCH_PAUSE)
        if self.camera is None and found:
            found = [max(found, key=lambda c: float(np.ptp(c.pose.pixels[:, 1])))]
        return found

    def _searched_behind(self, frame: Frame, seen: Sequence[Candidate]) -> list[Candidate]:
        """Look for somebody behind those seen, now and then; soon after somebody was lost."""
        now = frame.time_s
        if self.camera is None or not seen or now < self._behind_at:
            return []
        lost = any(LOST < now - player.seen_at <= _GONE for player in self.players)
        factor = _BEHIND_FACTORS[self._behind_tries % len(_BEHIND_FACTORS)]
        self._behind_tries += 1
        others = [candidate.pose for candidate in seen]
        boxes = [widened(pose.box, factor) for pose in others]
        found = self._found_in(frame, boxes, others)
        self._behind_pause = (
            _BEHIND_PAUSE
            if found or lost
            else min(_BEHIND_GROWTH * self._behind_pause, _LONGEST_BEHIND_PAUSE)
        )
        self._behind_at = now + self._behind_pause
        return found

    def _known_empty(self, frame: Frame, box: Box) -> bool:
        """Whether nobody was seen in about this square before, and it still looks the same."""
        return any(
            closer_box(box, other.box, 0.1)
            and 0.8 < box.side / other.box.side < 1.25
            and (picture := body_thumbnail(frame, other.box)) is not None
            and same_thumbnail(picture, other.picture)
            for other in self._empty
        )

    def _note_empty(self, frame: Frame, boxes: Sequence[Box]) -> None:
        """Remember squares in which nobody new was seen."""
        for box in boxes:
            picture = body_thumbnail(frame, box)
            if picture is not None:
                self._empty = [*self._empty, EmptyPlace(box, picture)][-_MOST_EMPTY:]

    def _where_it_moves(self, frame: Frame, seen: Sequence[Candidate]) -> list[Candidate]:
        """Look where something moves and none of those seen in this frame is."""
        if self._motion is None:
            return []
        known = [c.pose.box for c in seen]
        return self._found_in(frame, [widened(box, _WIDE) for box in self._motion.proposals(known)])

    def _found_in(
        self, frame: Frame, boxes: Sequence[Box], others: Sequence[Pose] = ()
    ) -> list[Candidate]:
        """Look for people in squares, past others, and once more around each of them.

        Behind the net's tape the second look may show nobody; who is seen alike in two squares is
        there all the same.
        """
        finder = self._landmarkers.finder
        found: list[Candidate] = []
        once: list[Pose] = []
        for box in boxes:
            for rough in look_in(finder, frame, box, others):
                if self.camera is not None and not stands_on_half(
                    self.camera, rough.pixels, MARGIN_FOUND
                ):
                    continue
                if any(same_person(rough, other.pose) for other in found):
                    continue
                if not told_apart(rough, others):
                    continue
                again = rough.box
                closer = self._counting(
                    frame,
                    look_in(finder, frame, widened(again, _WIDE), others),
                    again,
                    MARGIN_FOUND,
                    others,
                )
                if not closer and any(same_person(rough, other) for other in once):
                    closer = self._counting(frame, [rough], None, MARGIN_FOUND, others)
                found += closer
                once.append(rough)
        return found

    def _counting(
        self,
        frame: Frame,
        poses: Sequence[Pose],
        box: Box | None,
        margin: float,
        others: Sequence[Pose] = (),
        expected: Pose | None = None,
    ) -> list[Candidate]:
        """Keep the poses of people who count, and who are near the middle of a square.

        Others may stand in front of them: what they cover says nothing of the colours.
        """
        kept = []
        for pose in poses:
            middle = pose.pixels[HIPS].mean(axis=0)
            if not told_apart(pose, others, expected):
                continue
            if box is not None:
                away = np.linalg.norm(middle - (box.x + box.side / 2, box.y + box.side / 2))
                if away > _JUMP * box.side:
                    continue
            if self.camera is None:
                place = middle
            elif stands_on_half(self.camera, pose.pixels, margin):
                place = base_on_floor(self.camera, pose.pixels)
            else:
                continue
            kept.append(Candidate(pose, place, colours_worn(frame, pose, others)))
        return kept

    def _assigned(self, candidates: Sequence[Candidate], now: float) -> dict[Player, Candidate]:
        """Give poses to players so that places, motion and colours fit best over all."""
        if not candidates or not self.players:
            return {}
        impossible = 1e6
        cost = np.full((len(self.players), len(candidates)), impossible)
        differs = np.array(
            [
                [
                    colour_distance(player.colours, candidate.colours)
                    * (1.0 if player.colours_sure else _UNSURE_SHARE)
                    for candidate in candidates
                ]
                for player in self.players
            ]
        )
        apart = np.array(
            [
                [self._apart(player, candidate, now) for candidate in candidates]
                for player in self.players
            ]
        )
        for row, player in enumerate(self.players):
            since = now - player.seen_at
            reach = min(_REACH_AT_ONCE + _REACH_SPEED * since, _LONGEST_REACH)
            for column in range(len(candidates)):
                away, differ = apart[row, column], differs[row, column]
                if self._is_partner(row, column, candidates, differs, apart, now):
                    continue
                worth = away + _COLOUR_METRES * differ
                most = reach + _MOST_FOR_COLOURS
                if away <= reach and differ <= _OTHER_COLOURS and worth <= most:
                    cost[row, column] = worth
        rows, columns = scipy.optimize.linear_sum_assignment(cost)
        return {
            self.players[row]: candidates[column]
            for row, column in zip(rows, columns, strict=True)
            if cost[row, column] < impossible
        }

    def _is_partner(
        self,
        row: int,
        column: int,
        candidates: Sequence[Candidate],
        differs: FloatArray,
        apart: FloatArray,
        now: float,
    ) -> bool:
        """Whether a candidate who is where a player's partner is does not wear what they do.

        If somebody else is nearer to where the partner should be, the candidate is not they.
        """
        pose, differ = candidates[column].pose, differs[:, column]
        box = pose.box
        return any(
            other != row
            and now - player.seen_at <= LOST
            and differ[row]
            > np.clip(_UNSURE_COLOURS, differ[other] - _LIKE_PARTNER, differ[other] + _LIKE_PARTNER)
            and closer_box(box, player.expected(now), 0.7)
            and not any(
                away < apart[other, column] and two_people(pose, candidate.pose)
                for away, candidate in zip(apart[other], candidates, strict=True)
            )
            for other, player in enumerate(self.players)
        )

    def _apart(self, player: Player, candidate: Candidate, now: float) -> float:
        """How far a candidate is from where a player should be, metres.

        Mostly in the picture's plane: along the viewing direction a floor place is far noisier.
        It counts all the same, as it parts two players of whom one is behind the other.
        """
        expected = player.last_pose.pixels[HIPS].mean(axis=0) + player.moved(now)
        height = max(np.ptp(player.last_pose.pixels[:, 1]), np.ptp(candidate.pose.pixels[:, 1]))
        middle = candidate.pose.pixels[HIPS].mean(axis=0)
        away = float(np.linalg.norm(middle - expected)) / float(height) * _PLAYER_METRES
        if self.camera is None:
            return away
        gone = float(np.linalg.norm(candidate.place - self._last_place(player)))
        depth = min(gone, _MOST_DEPTH)
        return away + _DEPTH_SHARE * depth

    def _welcome(self, candidate: Candidate, frame: Frame) -> None:
        """Take somebody new as a player where a place is free."""
        present = [p for p in self.players if frame.time_s - p.seen_at <= _REPLACED]
        if len(present) >= self._most:
            return
        if self.camera is not None and not stands_on_half(
            self.camera, candidate.pose.pixels, MARGIN_FOUND
        ):
            return
        if any(
            player.pose_at(frame.index) is not None
            and not two_people(player.last_pose, candidate.pose)
            and (
                colour_distance(player.colours, candidate.colours) < _UNSURE_COLOURS
                or not told_apart(candidate.pose, [player.last_pose])
            )
            for player in present
        ):
            # About where somebody else is, in the same clothes or covered: that one once more.
            return
        taken = {p.landmarker_number for p in present}
        landmarker_number = next(n for n in range(self._most) if n not in taken)
        track_id = TrackId(self.half, self._tracks_started)
        self._tracks_started += 1
        player = Player(track_id, landmarker_number, candidate.colours, PoseHistory(self._aside))
        player.add(frame, candidate.pose)
        self.players.append(player)
        player.colours_sure = not self._covered(player)

    def _covered(self, player: Player) -> bool:
        """Whether a player's square overlaps another's, so that colours may be mixed up."""
        box = player.last_pose.box
        return any(
            closer_box(box, other.last_pose.box, 0.7)
            for other in self.players
            if other is not player
        )
