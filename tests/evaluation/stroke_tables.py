"""What the accuracy of strokes faced, own strokes and ready positions in play is told in."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stance.measures.classes import class_index
from stance.measures.handedness import SURE
from stance.results.model import Result
from stance.types import CLASSES, NOT_ASSESSED
from tests.evaluation.accuracy import limit_distance, wrapped
from tests.evaluation.strokes import JUDGED, MEASURE_OF, WITHIN_S, Row
from tests.evaluation.tables import Table, mean, percentile, share

MET = ("set", "on_the_move")
FOUND_AS = (*MET, "not_seen", "no stroke found")
NEAR_LIMIT_DEG = 3.0


@dataclass(frozen=True)
class HandRow:
    """A player's true racket hand, the one that the tool takes, and how sure it is."""

    clip: str
    true: str
    found: str
    confidence: float


def stroke_table(rows: Sequence[Row], title: str) -> Table:
    """Recall, precision and errors of time: of all, serves, the others, by opposite and view.

    A found stroke counts among serves by what it says it is.
    """
    groups: dict[str, Callable[[Row], bool]] = {
        "all": lambda row: True,
        "serves": lambda row: (row.true or row.found).serve,
        "in play": lambda row: not (row.true or row.found).serve,
    }
    for opposite in sorted({row.setting.opposite for row in rows}):
        groups[f"opposite: {opposite}"] = lambda row, o=opposite: row.setting.opposite == o
    for view in sorted({row.setting.view for row in rows}):
        groups[f"view: {view}"] = lambda row, v=view: row.setting.view == v
    lines = [_stroke_line(name, list(filter(of, rows))) for name, of in groups.items()]
    return Table(f"{title}, found within {WITHIN_S:g} s", lines)


def clip_table(rows: Sequence[Row], title: str) -> Table:
    """Recall and precision by clip."""
    clips = dict.fromkeys(row.setting.clip for row in rows)
    lines = [_stroke_line(c, [r for r in rows if r.setting.clip == c]) for c in clips]
    return Table(f"{title}, by clip", lines)


def known_table(rows: Sequence[Row]) -> Table:
    """How the found strokes are known, and how many of each are true."""
    found = [row for row in rows if row.found]
    counts = Counter("+".join(row.found.known_by) for row in found)
    lines = []
    for known_by, count in counts.most_common():
        true = sum(bool(r.true) for r in found if "+".join(r.found.known_by) == known_by)
        lines.append({"known by": known_by or "-", "found": count, "precision": true / count})
    return Table("how strokes faced are known", lines)


def serve_table(rows: Sequence[Row]) -> Table:
    """Serves and other strokes against what they were taken for."""
    both = [row for row in rows if row.true and row.found]
    lines = [
        {
            "true": name,
            "taken as serve": sum(r.true.serve == serve and r.found.serve for r in both),
            "as in play": sum(r.true.serve == serve and not r.found.serve for r in both),
        }
        for name, serve in (("serve", True), ("in play", False))
    ]
    return Table("serves told from strokes in play, of the strokes found", lines)


def met_table(rows: Sequence[Row]) -> Table:
    """Set or on the move against the truth."""
    known = [row for row in rows if row.true and row.true.met]
    lines = []
    for true in MET:
        mine = [row for row in known if row.true.met == true]
        counts = Counter(row.found.met if row.found else FOUND_AS[-1] for row in mine)
        found = sum(row.found is not None for row in mine)
        lines.append(
            {
                "true": true,
                **{name: counts[name] for name in FOUND_AS},
                "agrees, of found": share(counts[true], found),
            }
        )
    agreed = sum(bool(row.found) and row.found.met == row.true.met for row in known)
    found = sum(bool(row.found) for row in known)
    lines.append(
        {
            "true": "both",
            **{name: sum(line[name] for line in lines) for name in FOUND_AS},
            "agrees, of found": share(agreed, found),
        }
    )
    return Table("met set or on the move", lines)


def spell_table(rows: Sequence[Row]) -> Table:
    """Errors of when both feet were down and when the first one left, seconds."""
    ready = _ready(rows)
    lines = []
    for name, true, found in (
        ("landing", lambda r: r.true.landing_s, lambda r: r.found.position.start_s),
        ("leaving", lambda r: r.true.leaving_s, lambda r: r.found.position.end_s),
    ):
        errors = np.array([found(r) - true(r) for r in ready if true(r) is not None])
        lines.append(
            {
                "of": name,
                "n": len(errors),
                "bias s": mean(errors),
                "mean abs s": mean(np.abs(errors)),
                "median abs s": percentile(np.abs(errors), 50),
                "95th s": percentile(np.abs(errors), 95),
            }
        )
    return Table("errors of landing and leaving", lines)


def measure_table(rows: Sequence[Row]) -> Table:
    """Errors of the judged measures by view, and what their intervals hold."""
    ready = [row for row in _ready(rows) if row.setting.hand_right]
    views = [*sorted({row.setting.view for row in ready}), "all"]
    lines = []
    for name in JUDGED:
        with_truth = [row for row in ready if name in row.true.measures]
        for view in views if with_truth else ():
            mine = [row for row in with_truth if view in (row.setting.view, "all")]
            lines.append(_measure_line(name, view, mine))
    wrong = len(_ready(rows)) - len(ready)
    return Table(
        f"measures at strokes met set ({wrong} positions left out: the wrong hand was taken)",
        lines,
    )


def class_tables(rows: Sequence[Row]) -> list[Table]:
    """Classes against those of the true angles: of all and away from where the class changes."""
    ready = [row for row in _ready(rows) if row.setting.hand_right]
    ready = [row for row in ready if {*JUDGED[:2]} <= row.true.measures.keys()]
    far = [row for row in ready if limit_distance(row.true.measures) >= NEAR_LIMIT_DEG]
    parts = (("all", ready), (f"{NEAR_LIMIT_DEG:g} degrees or more from a limit", far))
    lines = [_class_line(name, part) for name, part in parts]
    return [Table("classes", lines), _confusion_table(ready)]


def hand_table(hands: Sequence[HandRow]) -> Table:
    """Racket hands: right, and right of those said to be sure."""
    sure = [row for row in hands if row.confidence >= SURE]
    line = {
        "players": len(hands),
        "right": sum(row.true == row.found for row in hands),
        "sure": len(sure),
        "sure and right": sum(row.true == row.found for row in sure),
    }
    return Table("racket hands", [line])


def notice_table(results: Sequence[Result | None]) -> Table:
    """What coaches are told, and in how many clips; None is a clip that is refused."""
    codes = Counter(
        code for r in results for code in ({n.code for n in r.warnings} if r else {"refused"})
    )
    return Table("notices", [{"of": code, "clips": count} for code, count in codes.most_common()])


def _ready(rows: Sequence[Row]) -> list[Row]:
    """Strokes that were met set and have a ready position."""
    return [r for r in rows if r.true and r.found and r.true.met == "set" and r.found.position]


def _stroke_line(name: str, rows: Sequence[Row]) -> dict:
    both = [row for row in rows if row.true and row.found]
    true, found = (sum(getattr(r, k) is not None for r in rows) for k in ("true", "found"))
    recall, precision = share(len(both), true), share(len(both), found)
    errors = np.array([row.error_s for row in both])
    held = [abs(row.error_s) <= 2 * row.found.se_s for row in both]
    return {
        "": name,
        "true": true,
        "found": len(both),
        "reported": found,
        "recall": recall,
        "precision": precision,
        "F1": share(2 * len(both), true + found),
        "error s": mean(errors),
        "SD s": float(errors.std(ddof=1)) if len(errors) > 1 else None,
        "within 2 se": mean(held),
    }


def _measure_line(name: str, view: str, rows: Sequence[Row]) -> dict:
    measure = MEASURE_OF[name]
    scale = 100.0 if measure.unit == "metres" else 1.0
    true = np.array([row.true.measures[name] for row in rows])
    value = np.array([measure.value(row.found.position) for row in rows])
    true_se = np.array([row.true.errors.get(name, 0.0) for row in rows])
    se = np.hypot([measure.error(row.found.position) for row in rows], true_se)
    error = wrapped(name, value - true)
    return {
        "measure": f"{measure.name}, {'cm' if scale > 1 else 'deg'}",
        "view": view,
        "n": len(rows),
        "bias": mean(error * scale),
        "mean abs": mean(np.abs(error) * scale),
        "95th": percentile(np.abs(error) * scale, 95),
        "truth's own se": mean(true_se * scale),
        "95 % interval holds": mean(np.abs(error) <= 1.96 * se),
    }


def _true_class(row: Row) -> str:
    hips, lead = (row.true.measures[name] for name in JUDGED[:2])
    return CLASSES[int(class_index(lead, hips))]


def _class_line(name: str, rows: Sequence[Row]) -> dict:
    assessed = [row for row in rows if row.found.position.stance_class != NOT_ASSESSED]
    pairs = Counter((_true_class(row), row.found.position.stance_class) for row in assessed)
    scores = []
    for each in CLASSES:
        marked = sum(n for pair, n in pairs.items() for side in pair if side == each)
        scores += [2 * pairs[each, each] / marked] if marked else []
    return {
        "": name,
        "n": len(rows),
        "macro F1, assessed": mean(scores),
        "not assessed": share(len(rows) - len(assessed), len(rows)),
    }


def _confusion_table(rows: Sequence[Row]) -> Table:
    pairs = Counter((_true_class(row), row.found.position.stance_class) for row in rows)
    columns = (*CLASSES, NOT_ASSESSED)
    lines = [{"true": true, **{c: pairs[true, c] for c in columns}} for true in CLASSES]
    return Table("classes, true against found", lines)
