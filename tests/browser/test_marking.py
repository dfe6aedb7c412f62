"""Marking a photo in a browser: by touch, by mouse, by keyboard; figures follow."""

import io
import re
from zlib import crc32

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import Page, expect

from tests.browser.conftest import (
    DESK,
    PHONE,
    House,
    can_be_used_by_all,
    come_in,
    no_sideways_scroll,
    open_cinder,
)
from tests.browser.test_every_page import password

pytestmark = [pytest.mark.browser, pytest.mark.slow]

# Pixels of the picture: a wall of 54 along and 64 up stands at 49.8°; 400 px are 100 mm.
SIDE = {
    "toe_hairline": (616, 514),
    "toe_ground": (400, 770),
    "heel_hairline": (960, 680),
    "heel_ground": (870, 770),
    "ground_front": (220, 770),
    "ground_back": (1200, 770),
    "pastern_lower": (640, 450),
    "pastern_upper": (810, 240),
    "scale_one": (420, 850),
    "scale_other": (820, 850),
}
ON_SCREEN = """([x, y]) => {
  const board = document.querySelector("[data-board]");
  const point = new DOMPoint(x, y).matrixTransform(board.getScreenCTM());
  return [point.x, point.y];
}"""


def drawn(name: str) -> bytes:
    """A foot on a background of its own for each test: another picture, another photo."""
    shade = 170 + crc32(name.encode()) % 60
    picture = Image.new("RGB", (1600, 1200), (shade, shade, 186))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 770, 1600, 1200), fill=(120, 115, 105))
    draw.polygon(
        [SIDE[n] for n in list(SIDE)[:2]] + [(870, 770), (960, 680)], "#463e36"
    )
    out = io.BytesIO()
    picture.save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def photo(phone: Page, demo_house: House, request) -> Page:
    """The page of a new photo of a left fore, from the side, in an open visit."""
    come_in(phone, demo_house, "isla@example.org", password(demo_house))
    open_cinder(phone, demo_house)
    phone.locator("[data-tab=horse]").click()
    picture = drawn(request.node.name)
    phone.get_by_label("Add photos").set_input_files(
        {"name": "foot.jpg", "mimeType": "image/jpeg", "buffer": picture}
    )
    phone.locator("input[name=photo_foot][value=LF]").check()
    phone.locator("input[name=photo_view][value=lateral]").check()
    phone.get_by_role("button", name="Save", exact=True).last.click()
    # Those that a test has saved marks on say so; any other is bare.
    phone.get_by_role("link", name="Measure", exact=True).first.click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Measure on the photo")
    return phone


def on_screen(page: Page, x: float, y: float) -> tuple[float, float]:
    across, down = page.evaluate(ON_SCREEN, [x, y])
    return across, down


def figure(page: Page, name: str):
    return page.locator("[data-figures-place] tr", has_text=name)


def kept(page: Page, name: str) -> tuple[float, float]:
    x = page.locator(f"input[name={name}_x]").input_value()
    y = page.locator(f"input[name={name}_y]").input_value()
    return float(x), float(y)


def test_by_touch_with_the_magnifier(photo: Page):
    finger = photo.context.new_cdp_session(photo)

    def touch(kind: str, *at: tuple[float, float]) -> None:
        points = [{"x": x, "y": y} for x, y in at]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    photo.locator("[data-spot=toe_hairline]").click()
    photo.locator("[data-board]").scroll_into_view_if_needed()
    for number, place in enumerate(SIDE.values()):
        x, y = on_screen(photo, *place)
        touch("touchStart", (x + 15, y + 10))
        expect(photo.locator("[data-loupe]")).to_be_visible()
        touch("touchMove", (x, y))
        if number == 0:  # what lies under the finger is in the middle of the magnifier
            view = photo.locator("[data-loupe-view]").get_attribute("viewBox")
            left, top, width, height = (float(part) for part in view.split())
            assert left + width / 2 == pytest.approx(place[0], abs=4)
            assert top + height / 2 == pytest.approx(place[1], abs=4)
        touch("touchEnd")
        expect(photo.locator("[data-loupe]")).to_be_hidden()
    for name, place in SIDE.items():
        assert kept(photo, name) == pytest.approx(place, abs=4)  # a pixel of the phone
    photo.get_by_label("Known length").fill("100")
    expect(figure(photo, "Toe angle")).to_contain_text(
        re.compile(r"(49|50)\.\d° ± 1\.0°")
    )
    expect(figure(photo, "Toe length")).to_contain_text("mm ± ")
    no_sideways_scroll(photo)
    can_be_used_by_all(photo)
    photo.get_by_role("button", name="Save the marks").click()
    expect(photo.get_by_text("The marks are saved.")).to_be_visible()
    assert kept(photo, "toe_ground") == pytest.approx(SIDE["toe_ground"], abs=4)


def test_by_mouse_and_moved_later(photo: Page):
    photo.set_viewport_size(DESK)
    photo.locator("[data-spot=toe_hairline]").click()
    photo.locator("[data-board]").scroll_into_view_if_needed()
    for place in SIDE.values():
        x, y = on_screen(photo, *place)
        photo.mouse.move(x, y)
        photo.mouse.down()
        photo.mouse.up()
    photo.get_by_label("Known length").fill("100")
    expect(figure(photo, "Toe angle")).to_contain_text(re.compile(r"(49|50)\.\d° ±"))
    expect(figure(photo, "Toe angle").get_by_role("checkbox")).to_be_checked()
    no_sideways_scroll(photo)
    photo.get_by_role("button", name="Save, and record the ticked figures").click()
    expect(photo.get_by_text("the ticked figures recorded")).to_be_visible()
    expect(figure(photo, "Toe angle")).to_contain_text("recorded")

    # Moved later: taken a little beside its middle, it moves as far as the mouse does.
    before = kept(photo, "toe_hairline")
    x, y = on_screen(photo, *before)
    photo.mouse.move(x + 6, y + 4)
    photo.mouse.down()
    photo.mouse.move(x + 46, y + 4, steps=4)
    photo.mouse.up()
    per_px = 1 / photo.locator("[data-board]").evaluate("(b) => b.getScreenCTM().a")
    across, down = kept(photo, "toe_hairline")
    assert across == pytest.approx(before[0] + 40 * per_px, abs=1)
    assert down == pytest.approx(before[1], abs=1)
    row = figure(photo, "Toe angle")
    expect(row).to_contain_text("write over")
    expect(row.get_by_role("checkbox")).not_to_be_checked()


def test_by_keyboard(photo: Page):
    photo.set_viewport_size(DESK)
    spot = photo.locator("[data-spot=toe_ground]")
    spot.focus()
    photo.keyboard.press("Enter")
    mark = photo.locator("[data-mark=toe_ground]")
    expect(mark).to_be_focused()
    expect(mark).to_have_accessible_name(re.compile("^2: toe at the ground, "))
    start = kept(photo, "toe_ground")
    per_px = 1 / photo.locator("[data-board]").evaluate("(b) => b.getScreenCTM().a")
    for key in ("ArrowRight", "ArrowRight", "ArrowUp", "Shift+ArrowDown"):
        photo.keyboard.press(key)
    across, down = kept(photo, "toe_ground")
    assert across == pytest.approx(start[0] + 2 * per_px, abs=0.2)
    assert down == pytest.approx(start[1] + 9 * per_px, abs=0.2)
    expect(photo.locator("[data-loupe]")).to_be_visible()
    ring = mark.locator(".mark-hit")
    assert ring.evaluate("(one) => getComputedStyle(one).strokeWidth") == "3px"

    for name in ("toe_hairline", "ground_front", "ground_back"):
        photo.locator(f"[data-spot={name}]").focus()
        photo.keyboard.press("Enter")
    expect(figure(photo, "Toe angle")).to_contain_text("° ±")
    # Tab goes from mark to mark, in their order.
    photo.locator("[data-mark=toe_hairline]").focus()
    photo.keyboard.press("Tab")
    expect(mark).to_be_focused()
    photo.keyboard.press("Delete")
    expect(mark).to_be_hidden()
    expect(photo.get_by_text("No figures yet")).to_be_visible()
    expect(spot).to_be_focused()


def test_without_a_script_numbers_do(photo: Page, browser):
    state = photo.context.storage_state()
    plain = browser.new_context(java_script_enabled=False, storage_state=state)
    page = plain.new_page()
    page.goto(photo.url)
    page.get_by_text("Marks as numbers").click()
    for name in ("toe_hairline", "toe_ground", "ground_front", "ground_back"):
        page.locator(f"input[name={name}_x]").fill(str(SIDE[name][0]))
        page.locator(f"input[name={name}_y]").fill(str(SIDE[name][1]))
    page.get_by_role("button", name="Save the marks").click()
    expect(page.get_by_text("The marks are saved.")).to_be_visible()
    expect(page.locator("tr", has_text="Toe angle")).to_contain_text("49.8° ±")
    expect(page.locator("[data-mark=toe_ground]")).to_be_visible()
    plain.close()


def test_two_fingers_zoom_and_set_no_mark(photo: Page, browser):
    state = photo.context.storage_state()
    mobile = browser.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, storage_state=state
    )
    page = mobile.new_page()
    page.goto(photo.url)
    expect(page.locator("[data-now]")).to_contain_text("1 of 10")
    x, y = on_screen(page, 600, 500)
    finger = mobile.new_cdp_session(page)

    def touch(kind: str, *at: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(at)]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (x, y))
    assert kept(page, "toe_hairline") == pytest.approx((600, 500), abs=4)
    touch("touchStart", (x, y), (x + 60, y + 60))
    for step in range(1, 8):
        far = 10 * step
        touch("touchMove", (x - far, y - far), (x + 60 + far, y + 60 + far))
    touch("touchEnd")
    expect(page.locator("input[name=toe_hairline_x]")).to_have_value("")
    expect(page.locator("[data-loupe]")).to_be_hidden()
    mobile.close()
