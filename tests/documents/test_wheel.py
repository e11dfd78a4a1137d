"""A built wheel carries its templates and prints from them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

from picklist.documents.templates import template_folder
from picklist.store.state import MIGRATIONS
from picklist.tables.examples import MADE_UP

ROOT = Path(__file__).parents[2]


def test_that_a_checkout_uses_its_own_templates() -> None:
    assert template_folder() == ROOT / "templates"


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("picklist-*.whl")
    with ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def test_that_a_wheel_prints_a_plan_with_the_templates_inside(unpacked: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    from picklist.documents.plan_json import plan_to_json
    from tests.documents.findings import rich_plan

    plan.write_bytes(plan_to_json(rich_plan()))
    script = (
        "import sys; from pathlib import Path; "
        "sys.path.insert(0, sys.argv[1]); "
        "from picklist.documents.plan_json import plan_from_json; "
        "from picklist.documents.write_plan import write_plan; "
        "from picklist.documents.templates import template_folder; "
        "write_plan(plan_from_json(Path(sys.argv[2]).read_bytes()), Path(sys.argv[3])); "
        "print(template_folder())"
    )
    run = subprocess.run(
        [sys.executable, "-I", "-c", script, str(unpacked), str(plan), str(tmp_path / "out")],
        cwd=tmp_path, check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert Path(run.stdout.strip()) == unpacked / "picklist" / "_templates"
    assert (tmp_path / "out" / "pick-lists.pdf").stat().st_size > 10_000


def test_that_the_fonts_travel_with_their_licence(unpacked: Path) -> None:
    fonts = unpacked / "picklist" / "_templates" / "fonts"
    assert "SIL OPEN FONT LICENSE" in (fonts / "Inter-OFL.txt").read_text()
    assert len(list(fonts.glob("*.otf"))) == 3


def test_that_made_up_sites_and_migrations_travel_with_it(unpacked: Path) -> None:
    for own in (*MADE_UP.rglob("*.csv"), *MIGRATIONS):
        assert (unpacked / own.relative_to(ROOT)).read_bytes() == own.read_bytes()
