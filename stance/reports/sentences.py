"""The wording of a clip's report and pictures: numbers and angles in words."""

import math

from stance.assessment.angle_words import turned_words
from stance.results.measures_table import MEASURES, CardRow, Measure
from stance.results.model import ReadyPosition
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.types import CLASS_NAMES, NOT_ASSESSED

_VERY_SURE, _OVER_99, _FAIRLY_SURE = 0.95, 0.99, 0.8


def class_words(position: ReadyPosition) -> str:
    """The class in words, with the side in front: "over-side-on, racket side back"."""
    if position.stance_class != "over_side_on":
        return _(CLASS_NAMES[position.stance_class])
    if position.racket_side_leads:
        return _("over-side-on, racket side in front")
    return _("over-side-on, racket side back")


def stance_words(position: ReadyPosition) -> str:
    """Feet and hips of a ready position in words: "feet 23° back, hips 15° back"."""
    return _("feet {feet}, hips {hips}").format(
        feet=turned_words(position.lead_angle_deg), hips=turned_words(position.hip_yaw_deg)
    )


def how_sure(position: ReadyPosition) -> str:
    """How sure the class is, in words and percent; where not assessed, what it could be."""
    if not all(math.isfinite(chance) for chance in position.probabilities.values()):
        return _("nothing is known of the stance")
    if position.stance_class == NOT_ASSESSED:
        ranked = sorted(position.probabilities.items(), key=lambda item: -item[1])
        likely = [
            f"{_(CLASS_NAMES[name])} ({percent(chance)})"
            for name, chance in ranked
            if chance >= 0.1
        ]
        if not likely:
            return _("no stance fits")
        return _("could be {stances}").format(stances=_(" or ").join(likely))
    chance = position.probabilities[position.stance_class]
    if chance > _OVER_99:
        return _("very sure (over 99 %)")
    words = _("likely ({chance})")
    if chance >= _VERY_SURE:
        words = _("very sure ({chance})")
    elif chance >= _FAIRLY_SURE:
        words = _("fairly sure ({chance})")
    return words.format(chance=percent(chance))


def measure_rows(position: ReadyPosition, place_known: bool) -> list[dict[str, str]]:
    """Rows of the table on a card: name and value with its typical error.

    Parameters
    ----------
    position
        the ready position.
    place_known
        whether the camera knows where on the court the player stands.
    """
    return [
        {"name": _(measure.card.title), "value": _card_value(measure, measure.card, position)}
        for measure in MEASURES
        if measure.card is not None and (place_known or not measure.card.on_court)
    ]


def number_words(value: float | None, digits: int, unit: str, error: float | None = None) -> str:
    """A value with its standard error, as "−16 ± 2°"; "not known" where it is unknown.

    An error that rounds to nothing is left out.
    """
    if value is None or not math.isfinite(value):
        return _("not known")
    text = format_number(value, digits)
    if error is not None and math.isfinite(error) and float(f"{error:.{digits}f}"):
        text += f" ± {format_number(error, digits)}"
    return f"{text}{unit}"


def percent(share: float) -> str:
    """A share in percent; "not known" where it is NaN."""
    return f"{format_number(100 * share)} %" if math.isfinite(share) else _("not known")


def _card_value(measure: Measure, card: CardRow, position: ReadyPosition) -> str:
    """A measure with its standard error; where the card says so, words for its sign."""
    value = card.scale * measure.value(position)
    error = abs(card.scale) * measure.error(position)
    if not card.sign_in_words:
        return number_words(value, card.digits, _(card.unit), error)
    text = number_words(abs(value), card.digits, _(card.unit), error)
    if not math.isfinite(value) or round(abs(value)) == 0:
        return text
    words = _("{measure} back") if value < 0 else _("{measure} in front")
    return words.format(measure=text)
