"""The set-up sheet in a real browser: Debian's Chromium, driven by playwright."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import Result

from hydrocheck import demo
from hydrocheck.model import Truck
from hydrocheck.model.readings import read_readings
from hydrocheck.model.writer import truck_text

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Locator, Page

Run = Callable[..., Result]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SWITCHES = [
    "--no-sandbox",  # a test container runs as root
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
]
PHONE = {"width": 390, "height": 844}
NAME = 'J. "Jo" O\'Neil <x>'
EVIL = '<script>hit = 1</script>"\'><img src=x onerror="hit = 1">{{ 7*7 }}'

pytestmark = [
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium: the set-up sheet is not driven"),
    # The driver's own loop and pipes, closed when its process ends.
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip("playwright.sync_api", reason="no playwright")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport=PHONE, accept_downloads=True)
    context.set_default_timeout(20_000)
    yield context
    context.close()


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The sheets of two demo trucks and of one whose file is full of markup, by the command."""
    from click.testing import CliRunner

    from hydrocheck.cli import main

    folder = tmp_path_factory.mktemp("sheets")
    evil = folder / "evil.toml"
    evil.write_text(evil_truck())
    nasty = folder / "nasty.toml"
    nasty.write_text(truck_text(nasty_truck()))
    made = {}
    for name, args in {
        "tandem": ["--demo", "tandem"],
        "mistakes": ["--demo", "mistakes"],
        "evil": [str(evil)],
        "nasty": [str(nasty)],
    }.items():
        made[name] = folder / f"{name}.html"
        done = CliRunner().invoke(main, ["sheet", *args, "-o", str(made[name])])
        assert done.exit_code == 0, done.output
    return made


def evil_truck() -> str:
    """A demo truck file with markup and quotes for names and texts."""
    text = demo.path("mistakes").read_text()
    quoted = json.dumps(EVIL)
    plain = r'^(name|about) = ".*?"(?=.*\n)'
    text = re.sub(plain, rf"\1 = {_safe(quoted)}", text, count=2, flags=re.M)
    text = text.replace('"auger"', quoted).replace('"main relief"', json.dumps(EVIL + " relief"))
    text = re.sub(r"^auger = \{ rate", f"{_safe(quoted)} = {{ rate", text, flags=re.M)
    return text.replace('name = "spreading"', f"name = {json.dumps(EVIL + ' work')}")


def nasty_truck() -> Truck:
    """A demo truck with ten functions, twenty rates and dozens of findings that do not pass."""
    truck = demo.load("tandem")
    for path, value in {
        "main relief.setting": 2.3e7,
        "pump.displacement": 1.5e-6,
        "pump.max_speed": 209.0,
        "suction.bore": 0.025,
        "pressure.bore": 0.013,
        "return.bore": 0.015,
        "auger.trims.min": 0.2,
        "spinner.trims.min": 0.2,
        "liquid.trims.min": 0.2,
        "oil.hot": 383.0,
    }.items():
        truck = truck.vary(path, value)
    spreading = replace(
        truck.spreading,
        rates=tuple(0.03 * (1 + 0.3 * k) for k in range(20)),
        road_speeds=tuple(4.0 + 1.5 * k for k in range(10)),
    )
    spinner = truck.function_named("spinner")
    more = [f"further spinner with a long name {k}" for k in range(5)]
    first = truck.scenario[0]
    task = next(t for t in first.run if t.name == "spinner")
    run = (*first.run, *(replace(task, name=name) for name in more))
    return replace(
        truck,
        spreading=spreading,
        function=(*truck.function, *(replace(spinner, name=name) for name in more)),
        scenario=(replace(first, run=run), *truck.scenario[1:]),
    )


def _safe(replacement: str) -> str:
    return replacement.replace("\\", "\\\\")


def opened(context: BrowserContext, path: Path) -> Page:
    """A page; anything that it asks from elsewhere, or says on its console, fails the test."""
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url) if not _own(r.url) else None)
    page.on("console", lambda m: asked.append(m.text))
    page.on("pageerror", lambda e: asked.append(str(e)))
    page.on("dialog", lambda d: (asked.append(d.message), d.dismiss()))
    page.goto(path.as_uri())
    page.asked = asked  # type: ignore[attr-defined]  # kept for `quiet`
    return page


def _own(url: str) -> bool:
    return url.startswith(("file:", "data:", "blob:"))


def quiet(page: Page) -> bool:
    return page.asked == []  # type: ignore[attr-defined]  # set by `opened`


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


# -- fill, flag, reload, save, use -----------------------------------------------------------------


def label(page: Page, text: str) -> Locator:
    return page.get_by_label(text, exact=True)


def fill_some(page: Page) -> None:
    label(page, "standby pressure").fill("410")
    label(page, "auger minimum trim").fill("31.5")
    label(page, "spinner maximum trim").fill("79")
    label(page, "oil temperature").fill("112")
    label(page, "Hopper while measuring").select_option("empty")
    page.get_by_label("Emergency stop and spreader stop tried").check()
    label(page, "Set up by").fill(NAME)
    page.get_by_label("Remarks, and why").fill("gauge reads high\nsecond line")


def test_values_are_flagged_at_once(context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["tandem"])
    standby = label(page, "standby pressure")
    flag = page.locator(f"#{standby.get_attribute('id')}-flag")
    standby.fill("250")
    assert flag.inner_text() == "below the range of 325 to 375 psi"
    assert standby.get_attribute("aria-invalid") == "true"
    standby.fill("2,50")
    assert flag.inner_text() == "not a plain number"
    standby.fill("345")
    assert flag.inner_text() == ""
    assert standby.get_attribute("aria-invalid") is None
    standby.fill("410")
    assert page.locator("#count").inner_text() == "1 of 28 filled, 1 out of range"
    assert quiet(page)


def test_a_reload_keeps_what_is_filled_in(context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["tandem"])
    fill_some(page)
    page.reload()
    standby = label(page, "standby pressure")
    assert standby.input_value() == "410"
    assert "above the range" in page.locator(f"#{standby.get_attribute('id')}-flag").inner_text()
    assert label(page, "Hopper while measuring").input_value() == "empty"
    assert page.get_by_label("Emergency stop and spreader stop tried").is_checked()
    assert page.get_by_label("Remarks, and why").input_value() == "gauge reads high\nsecond line"
    assert quiet(page)


def test_saved_readings_go_to_trims_and_back_onto_the_sheet(
    context: BrowserContext, sheets: dict[str, Path], tmp_path: Path, hydrocheck_cli: Run
) -> None:
    page = opened(context, sheets["tandem"])
    fill_some(page)
    file = download(page, tmp_path, "alder-fork-27-tandem-patrol-truck-readings.json")
    assert quiet(page)

    taken = read_readings(file)
    assert (taken.truck, taken.by) == ("Alder Fork 27, tandem patrol truck", NAME)
    (standby,) = taken.of("pump pressure")
    assert standby.note == "standby pressure: above the range of 325 to 375 psi"
    (trim,) = taken.of("auger minimum trim")
    assert (trim.at.hopper, trim.number) == ("empty", pytest.approx(0.315))
    assert trim.at.oil == pytest.approx((112 - 32) / 1.8 + 273.15)

    found = hydrocheck_cli("trims", "--demo", "tandem", "--json", "--readings", str(file))
    compared = json.loads(found.stdout)["result"]["found"]
    assert [(c["function"], c["which"], c["hopper"]) for c in compared] == [
        ("auger", "minimum", "empty"),
        ("spinner", "maximum", "empty"),
    ]
    assert all(c["agrees"] for c in compared)

    again = tmp_path / "filled.html"
    args = ("sheet", "--demo", "tandem", "--readings", str(file), "-o", str(again))
    # The trim of the empty hopper lies below the range for a loaded one, as it should.
    assert "4 filled in, 2 out of range" in hydrocheck_cli(*args).stdout
    page = opened(context, again)
    assert label(page, "standby pressure").input_value() == "410"
    assert label(page, "Hopper while measuring").input_value() == "empty"
    assert page.get_by_label("Emergency stop and spreader stop tried").is_checked()
    assert label(page, "Set up by").input_value() == NAME
    assert "gauge reads high" in page.get_by_label("Remarks, and why").input_value()
    assert quiet(page)


def download(page: Page, folder: Path, name: str | None = None) -> Path:
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save readings").click()
    assert name in (None, waiting.value.suggested_filename)
    file = folder / "found.json"
    waiting.value.save_as(file)
    return file


def test_clear_asks_first(context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["mistakes"])
    blank = label(page, "relief pressure")
    blank.fill("1450")
    page.get_by_role("button", name="Clear").click()  # `opened` dismisses the question
    assert blank.input_value() == "1450"
    page.close()
    page = context.new_page()
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(sheets["mistakes"].as_uri())
    blank = label(page, "relief pressure")
    assert blank.input_value() == "1450"
    page.get_by_role("button", name="Clear").click()
    assert blank.input_value() == ""
    page.reload()
    assert blank.input_value() == ""


# -- paper -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tandem", "mistakes", "nasty"])
@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_prints_on_two_to_four_pages(
    name: str, paper: str, context: BrowserContext, sheets: dict[str, Path]
) -> None:
    page = opened(context, sheets[name])
    assert 2 <= pages_of(page.pdf(format=paper)) <= 4


def test_what_has_no_room_on_paper_is_counted_there_and_shown_on_a_screen(
    context: BrowserContext, sheets: dict[str, Path]
) -> None:
    page = opened(context, sheets["nasty"])
    every = page.locator(".findings li")
    total = every.count()
    assert total > 30
    assert all(one.is_visible() for one in every.all())
    page.emulate_media(media="print")
    printed = sum(one.is_visible() for one in every.all())
    assert 8 <= printed < total
    assert page.get_by_text(f"{total - printed} more findings").is_visible()
    # The worst come first: whatever is left out is no worse than what is printed.
    words = [one.inner_text().split()[0] for one in every.all()[:printed]]
    assert words == sorted(words, key=["FAIL", "CAUTION"].index)


def test_prints_in_black_and_white_without_buttons(
    context: BrowserContext, sheets: dict[str, Path]
) -> None:
    page = opened(context, sheets["tandem"])
    label(page, "standby pressure").fill("250")
    page.emulate_media(media="print")
    colours = page.evaluate(
        """() => Array.from(document.querySelectorAll('body *'))
          .filter(e => e.getClientRects().length)
          .flatMap(e => { const s = getComputedStyle(e);
            return [s.color, s.backgroundColor, s.borderBottomColor]; })"""
    )
    for colour in set(colours):
        red, green, blue = (int(v) for v in re.findall(r"\d+", colour)[:3])
        assert red == green == blue, colour
    assert not page.get_by_role("button", name="Save readings").is_visible()
    assert page.get_by_text("below the range of 325 to 375 psi").is_visible()


def test_without_script_it_is_a_paper_form(browser: Browser, sheets: dict[str, Path]) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto(sheets["tandem"].as_uri())
    assert label(page, "standby pressure").is_visible()
    assert page.get_by_text("Without script this is a paper form").is_visible()
    assert not page.get_by_role("button", name="Save readings").is_visible()
    assert 2 <= pages_of(page.pdf(format="Letter")) <= 4
    context.close()


# -- hostile text ----------------------------------------------------------------------------------


def test_a_truck_file_full_of_markup_stays_text(
    context: BrowserContext, sheets: dict[str, Path], tmp_path: Path
) -> None:
    page = opened(context, sheets["evil"])
    assert page.get_by_role("heading", level=1).inner_text() == EVIL
    assert page.title() == f"Set-up sheet: {EVIL}"
    assert page.locator("script").count() == 1
    assert page.locator("img").count() == 2
    assert page.evaluate("window.hit") is None
    page.get_by_label(f"{EVIL} minimum trim", exact=True).fill("33")
    (one,) = read_readings(download(page, tmp_path)).readings
    assert str(one.what) == f"{EVIL} minimum trim"
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert quiet(page)


# -- phone, keyboard, screen reader ----------------------------------------------------------------


@pytest.mark.parametrize("width", [320, 390])
def test_fits_a_phone(width: int, context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["tandem"])
    page.set_viewport_size({"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """() => Array.from(document.querySelectorAll('button, select, textarea, input[type=text]'))
          .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < 44)
          .map(e => e.id)"""
    )
    assert small == []


def test_keyboard_alone_fills_it(context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["mistakes"])
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the work"
    reached: set[str] = set()
    for _ in range(80):
        page.keyboard.press("Tab")
        here = page.evaluate("document.activeElement.id")
        if here in reached:
            break  # round again
        if here:
            reached.add(here)
        if here == "b1":
            page.keyboard.type("10")
        if here == "warm1":
            page.keyboard.press("Space")
    assert label(page, "oil temperature").input_value() == "10"
    assert page.locator("#b1-flag").inner_text().startswith("below")
    assert page.locator("#warm1").is_checked()
    wanted = page.evaluate(
        """() => Array.from(document.querySelectorAll('input, select, textarea, button'))
          .map(e => e.id)"""
    )
    assert set(wanted) <= reached


def test_contrast_and_names(context: BrowserContext, sheets: dict[str, Path]) -> None:
    page = opened(context, sheets["tandem"])
    label(page, "standby pressure").fill("250")
    pairs: list[list[str]] = page.evaluate(
        """() => Array.from(document.querySelectorAll('body *'))
          .filter(e => e.getClientRects().length
            && Array.from(e.childNodes).some(n => n.nodeType === 3 && n.textContent.trim()))
          .map(e => { let b = e;
            const ground = x => getComputedStyle(x).backgroundColor;
            while (b && ground(b) === 'rgba(0, 0, 0, 0)') b = b.parentElement;
            return [getComputedStyle(e).color, b ? ground(b) : 'rgb(255, 255, 255)']; })"""
    )
    for ink, ground in {tuple(pair) for pair in pairs}:
        assert contrast(ink, ground) >= 4.5, (ink, ground)  # WCAG 2.1, 1.4.3
    nameless = page.evaluate(
        """() => Array.from(document.querySelectorAll('input, select, textarea'))
          .filter(e => !e.labels.length || !e.labels[0].textContent.trim()).map(e => e.id)"""
    )
    assert nameless == []


def contrast(one: str, other: str) -> float:
    """Contrast of two colours of a style sheet, as WCAG 2.1 defines it."""

    def light(colour: str) -> float:
        parts = [int(v) / 255 for v in re.findall(r"\d+", colour)[:3]]
        linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dark, bright = sorted((light(one), light(other)))
    return (bright + 0.05) / (dark + 0.05)


def test_contrast_by_the_extremes() -> None:
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21.0)
    assert contrast("rgb(9, 9, 9)", "rgb(9, 9, 9)") == 1.0
