"""The wording of a clip's report, overlay and pictures: numbers and angles in words."""

import math

from stance.results.measures_table import MEASURES, CardRow, Measure
from stance.results.model import ReadyPosition
from stance.types import CLASS_NAMES, NOT_ASSESSED

_SURE = ((0.95, "as good as certain"), (0.8, "fairly sure"), (0.0, "likely"))


def facing_words(angle_deg: float, part: str) -> str:
    """An angle against the net line in words: "racket foot 16 degrees back".

    Parameters
    ----------
    angle_deg
        degrees, negative where the racket side is back; NaN is "not known".
    part
        "foot", "hip" or "shoulder".
    """
    if not math.isfinite(angle_deg):
        return "not known"
    size = round(abs(angle_deg))
    if size == 0:
        return "along the net line"
    unit = "degree" if size == 1 else "degrees"
    side = "back" if angle_deg < 0 else "leading"
    turned = ", back to the net" if size > 90 and part != "foot" else ""
    return f"racket {part} {size} {unit} {side}{turned}"


def short_facing_words(angle_deg: float, part: str) -> str:
    """An angle in the fewest words, for a key: "16° back"; parameters as for `facing_words`."""
    words = facing_words(angle_deg, part).removeprefix(f"racket {part} ").split(",")[0]
    return (
        words.replace(" degrees", "°").replace(" degree", "°").replace("along the net line", "0°")
    )


def stance_words(position: ReadyPosition) -> str:
    """Feet and hips of a ready position in words, for who can't see the picture."""
    feet = facing_words(position.lead_angle_deg, "foot")
    return f"feet, {feet}; hips, {facing_words(position.hip_yaw_deg, 'hip')}"


def overlay_caption(
    time_s: float, position: ReadyPosition | None, number: int | None = None
) -> tuple[str, str]:
    """Two lines for the overlay video's caption bar: what the player does, and the measures."""
    if position is None:
        return f"{time_s:.1f} s   between ready positions", ""
    feet = facing_words(position.lead_angle_deg, "foot")
    hips = facing_words(position.hip_yaw_deg, "hip")
    return (
        f"{time_s:.1f} s   ready position {number}: {position.class_name}",
        f"feet: {feet};  hips: {hips}",
    )


def how_sure(position: ReadyPosition) -> str:
    """How sure the class is, in words and percent; where not assessed, what it could be."""
    if not all(math.isfinite(chance) for chance in position.probabilities.values()):
        return "nothing is known of the class"
    if position.stance_class == NOT_ASSESSED:
        ranked = sorted(position.probabilities.items(), key=lambda item: -item[1])
        likely = [
            f"{CLASS_NAMES[name]} ({percent(chance)})" for name, chance in ranked if chance >= 0.1
        ]
        return "could be " + " or ".join(likely) if likely else "no class fits"
    chance = position.probabilities[position.stance_class]
    words = next(words for least, words in _SURE if chance >= least)
    return f"{words}, {percent(chance)}"


def measure_rows(position: ReadyPosition, place_known: bool) -> list[dict[str, str]]:
    """Rows of the table on a card: name, value with standard error, and small words below it.

    Parameters
    ----------
    position
        the ready position.
    place_known
        whether the camera knows where on the court the player stands.
    """
    rows: list[dict[str, str]] = []
    for measure in MEASURES:
        card = measure.card
        if card is None or (card.on_court and not place_known):
            continue
        if card.title:
            rows.append({"name": card.title, "value": _card_value(measure, card, position)})
            rows[-1]["small"] = ""
        elif math.isfinite(measure.value(position)):
            small = f"{card.scale * measure.value(position):.{card.digits}f}{card.unit}"
            rows[-1]["small"] = ", ".join(filter(None, (rows[-1]["small"], small)))
    return rows


def number_words(value: float | None, digits: int, unit: str, error: float | None = None) -> str:
    """A value with its standard error, as "−16 ± 2°"; "not known" where it is unknown."""
    if value is None or not math.isfinite(value):
        return "not known"
    # Adding 0 turns a rounded -0 into 0.
    text = f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "−")
    if error is not None and math.isfinite(error):
        text += f" ± {error:.{digits}f}"
    return f"{text}{unit}"


def percent(share: float) -> str:
    """A share in percent; "not known" where it is NaN."""
    return f"{100 * share:.0f} %" if math.isfinite(share) else "not known"


def _card_value(measure: Measure, card: CardRow, position: ReadyPosition) -> str:
    """A measure with its standard error; where the card says so, "back" or "leading" for a sign."""
    value = card.scale * measure.value(position)
    error = abs(card.scale) * measure.error(position)
    if not card.sign_in_words:
        return number_words(value, card.digits, card.unit, error)
    text = number_words(abs(value), card.digits, card.unit, error)
    if not math.isfinite(value) or round(abs(value)) == 0:
        return text
    return f"{text} {'back' if value < 0 else 'leading'}"
