"""The measures of a ready position: each is declared here once, for files, pages and tests.

From this table follow the columns of `positions.csv`, the rows of the report's cards, the titles
of comparisons and screenings and the rows that tests/evaluation prints; tests hold
`ReadyPosition` and docs/definitions.md against it.
"""

from dataclasses import dataclass

from stance.results.model import ReadyPosition
from stance.types import N_

# Shoulder width, and thigh and shin together, in parts of the stature: D. A. Winter, Biomechanics
# and Motor Control of Human Movement, 4th edition (2009), figure 4.1.
_SHOULDER_WIDTH, _LEG_LENGTH = 0.259, 0.491


@dataclass(frozen=True)
class CardRow:
    """How a measure stands on the report's card of a ready position.

    Attributes
    ----------
    title
        of the row
    unit
        as it follows the value, with its space
    digits
        after the decimal point
    scale
        from the measure's unit to the card's
    sign_in_words
        whether words, "back" or "in front", take the place of the sign
    on_court
        whether the value is known only where the camera's place on the court is
    """

    title: str
    unit: str
    digits: int = 0
    scale: float = 1.0
    sign_in_words: bool = False
    on_court: bool = False


@dataclass(frozen=True)
class Measure:
    """One number measured of a ready position; names and signs: docs/definitions.md.

    Attributes
    ----------
    field
        in `ReadyPosition` and result.json
    error_field
        that of its standard error; empty where there is none
    name, unit
        in words
    digits
        after the decimal point in a table
    sign
        what zero and the signs mean; empty where the value has none
    part
        its place in a pair (racket side and other side, or across and along the court); None where
        the field holds one number
    error_of
        the name as it follows "standard error of the"; empty where it is `name`
    card
        how the report shows it; None where it does not
    compared
        whether comparisons and screenings average it
    """

    field: str
    error_field: str
    name: str
    unit: str
    digits: int
    sign: str = ""
    part: int | None = None
    error_of: str = ""
    card: CardRow | None = None
    compared: bool = False

    @property
    def title(self) -> str:
        """The name with a capital, as headings of pages have it."""
        return self.name.capitalize()

    @property
    def heading(self) -> str:
        """Heading of its column in a table."""
        return f"{self.name} in {self.unit}" + (f" ({self.sign})" if self.sign else "")

    @property
    def error_heading(self) -> str:
        """Heading of its standard error's column."""
        return f"standard error of the {self.error_of or self.name} in {self.unit}"

    def value(self, position: ReadyPosition) -> float:
        """The measure of a ready position; NaN where unknown."""
        return self._number(position, self.field)

    def error(self, position: ReadyPosition) -> float:
        """Its standard error; NaN where unknown or where it has none."""
        return self._number(position, self.error_field) if self.error_field else float("nan")

    def _number(self, position: ReadyPosition, field: str) -> float:
        held = getattr(position, field)
        return float(held if self.part is None else held[self.part])


MEASURES = (
    Measure(
        field="lead_angle_deg",
        error_field="lead_angle_se_deg",
        name="lead angle",
        unit="degrees",
        digits=1,
        sign="negative: racket foot back",
        card=CardRow(N_("Feet"), "°", sign_in_words=True),
        compared=True,
    ),
    Measure(
        field="hip_yaw_deg",
        error_field="hip_yaw_se_deg",
        name="hip yaw",
        unit="degrees",
        digits=1,
        sign="negative: racket hip back",
        card=CardRow(N_("Hips"), "°", sign_in_words=True),
        compared=True,
    ),
    Measure(
        field="shoulder_yaw_deg",
        error_field="shoulder_yaw_se_deg",
        name="shoulder yaw",
        unit="degrees",
        digits=1,
        sign="negative: racket shoulder back",
        card=CardRow(N_("Shoulders"), "°", sign_in_words=True),
    ),
    Measure(
        field="foot_stagger_m",
        error_field="foot_stagger_se_m",
        name="foot stagger",
        unit="metres",
        digits=3,
        sign="negative: racket foot back",
        card=CardRow(N_("Racket foot"), " cm", scale=100.0, sign_in_words=True),
    ),
    Measure(
        field="stance_width_m",
        error_field="stance_width_se_m",
        name="stance width",
        unit="metres",
        digits=3,
        card=CardRow(N_("Width of base"), " cm", scale=100.0),
    ),
    Measure(
        field="stance_width_hips",
        error_field="",
        name="stance width",
        unit="hip widths",
        digits=2,
    ),
    Measure(
        field="stance_width_legs",
        error_field="",
        name="stance width",
        unit="leg lengths",
        digits=2,
        card=CardRow(
            N_("The same"), N_(" shoulder widths"), digits=1, scale=_LEG_LENGTH / _SHOULDER_WIDTH
        ),
    ),
    Measure(
        field="knee_flexion_deg",
        error_field="knee_flexion_se_deg",
        part=0,
        name="knee flexion of the racket leg",
        error_of="racket leg's knee flexion",
        unit="degrees",
        digits=1,
        card=CardRow(N_("Racket knee bent"), "°"),
    ),
    Measure(
        field="knee_flexion_deg",
        error_field="knee_flexion_se_deg",
        part=1,
        name="knee flexion of the other leg",
        error_of="other leg's knee flexion",
        unit="degrees",
        digits=1,
        card=CardRow(N_("Other knee bent"), "°"),
    ),
    Measure(
        field="base_m",
        error_field="base_se_m",
        part=0,
        name="base across the court",
        unit="metres",
        digits=3,
        sign="0: middle, positive: to the right",
    ),
    Measure(
        field="base_m",
        error_field="base_se_m",
        part=1,
        name="base along the court",
        unit="metres",
        digits=3,
        sign="0: net, negative: behind it",
        card=CardRow(N_("From the net"), " m", digits=1, scale=-1.0, on_court=True),
    ),
)
COMPARED = tuple(measure for measure in MEASURES if measure.compared)
