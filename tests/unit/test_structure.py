"""What a newcomer may rely on in all modules: their size, and where pictures are drawn."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    str(path.relative_to(ROOT))
    for room in ("stance", "tests")
    for path in ROOT.glob(f"{room}/**/*.py")
)
MOST_LINES, MOST_LINES_OF_A_FUNCTION = 400, 60
# OpenCV's drawing functions, and which argument of each is the colour.
DRAWING = {
    "line": 3,
    "arrowedLine": 3,
    "polylines": 3,
    "circle": 3,
    "rectangle": 3,
    "fillPoly": 2,
    "fillConvexPoly": 2,
    "drawContours": 3,
    "ellipse": 7,
    "drawMarker": 2,
    "putText": 5,
}


def parse(module):
    return ast.parse((ROOT / module).read_text(encoding="utf-8"))


def drawing_calls(tree):
    """Calls of OpenCV's drawing functions, each with the colour it is given."""
    for call in ast.walk(tree):
        match call:
            case ast.Call(func=ast.Attribute(value=ast.Name("cv2"), attr=name)) if name in DRAWING:
                place = DRAWING[name]
                yield call, call.args[place] if place < len(call.args) else None


def test_modules_are_found():
    assert "stance/reports/drawing.py" in MODULES and "tests/unit/test_structure.py" in MODULES


@pytest.mark.parametrize("module", MODULES)
def test_a_module_can_be_read_in_one_sitting(module):
    text = (ROOT / module).read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_LINES
    long = {
        node.name: node.end_lineno - node.lineno + 1
        for node in ast.walk(ast.parse(text))
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        and node.end_lineno - node.lineno >= MOST_LINES_OF_A_FUNCTION
    }
    assert long == {}


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith("stance/")])
def test_only_reports_draw_pictures(module):
    # A mask has one channel, so its value is a plain number; making one is no drawing.
    pictures = [
        ast.unparse(call)
        for call, colour in drawing_calls(parse(module))
        if not (isinstance(colour, ast.Constant) and isinstance(colour.value, int))
    ]
    assert pictures == [] or module.startswith("stance/reports/")


def test_the_search_for_drawing_tells_pictures_from_masks():
    picture, mask = ast.parse("cv2.line(a, b, c, WHITE, 1)"), ast.parse("cv2.line(a, b, c, 255, 1)")
    ((_, colour),) = drawing_calls(picture)
    assert isinstance(colour, ast.Name)
    ((_, colour),) = drawing_calls(mask)
    assert isinstance(colour, ast.Constant)
    assert list(drawing_calls(parse("stance/reports/drawing.py")))
