"""Templates are compiled once, where the package can be written to."""

from pathlib import Path

from jinja2 import Environment, FileSystemLoader

from stance.runtime.template_cache import template_cache


def rendered(templates: Path) -> str:
    environment = Environment(
        loader=FileSystemLoader(templates),
        autoescape=True,
        bytecode_cache=template_cache(templates),
    )
    return environment.get_template("page.html").render(name="<b>")


def test_a_compiled_template_is_kept_and_gives_the_same_page(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("Hello {{ name }}")
    assert rendered(tmp_path) == "Hello &lt;b&gt;"
    (kept,) = (tmp_path / "__pycache__").iterdir()
    before = kept.stat().st_mtime_ns
    assert rendered(tmp_path) == "Hello &lt;b&gt;"
    assert kept.stat().st_mtime_ns == before


def test_a_changed_template_is_compiled_anew(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("Hello {{ name }}")
    rendered(tmp_path)
    (tmp_path / "page.html").write_text("Bye {{ name }}")
    assert rendered(tmp_path) == "Bye &lt;b&gt;"


def test_a_damaged_compiled_template_is_compiled_anew(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("Hello {{ name }}")
    rendered(tmp_path)
    (kept,) = (tmp_path / "__pycache__").iterdir()
    kept.write_bytes(kept.read_bytes()[:30])
    assert rendered(tmp_path) == "Hello &lt;b&gt;"
    kept.write_bytes(b"")
    assert rendered(tmp_path) == "Hello &lt;b&gt;"


def test_without_a_place_pages_are_made_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("Hello {{ name }}")
    (tmp_path / "__pycache__").write_text("a file where the folder would be")
    assert template_cache(tmp_path) is None
    assert rendered(tmp_path) == "Hello &lt;b&gt;"
