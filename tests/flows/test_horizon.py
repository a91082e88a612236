"""Surveying a horizon with a phone: its own tilt and heading fill the angles."""

from __future__ import annotations

import pytest

from orchard.records.models import Horizon
from tests.conftest import make_spot
from tests.flows.conftest import signed_in

pytestmark = pytest.mark.on_sqlite

TURN = """([alpha, beta]) => window.dispatchEvent(
  new DeviceOrientationEvent("deviceorientationabsolute",
    { absolute: true, alpha, beta, gamma: 0 }))"""


def test_a_phone_takes_the_horizon_by_its_own_tilt(phone, orchard, vera):
    spot = make_spot(orchard, "4")
    signed_in(phone, vera)
    phone.goto(f"/{orchard.slug}/spots/{spot.pk}/horizon/")
    phone.context.grant_permissions(["accelerometer", "gyroscope", "magnetometer"])
    start = phone.get_by_role("button", name="Use the phone's own tilt")
    start.click()
    # Where the browser asks first, the page listens only after the answer.
    start.wait_for(state="hidden")
    # Heading is 360 minus alpha: north, east, south and west.
    for alpha, beta in ((0, 8), (270, 21), (180, 5), (90, 33)):
        phone.evaluate(TURN, [alpha, beta])
        phone.get_by_role("button", name="Take", exact=True).click()
    assert phone.get_by_label("east", exact=True).input_value() == "21"
    phone.get_by_role("button", name="Save horizon").click()
    phone.get_by_role("heading", name="Month by month").wait_for()
    row = Horizon.objects.get()
    assert row.points == [[0.0, 8.0], [90.0, 21.0], [180.0, 5.0], [270.0, 33.0]]
    assert row.how == "tilt"


def test_without_a_sensor_the_page_says_so_and_typing_works(phone, orchard, vera):
    spot = make_spot(orchard, "4")
    signed_in(phone, vera)
    phone.goto(f"/{orchard.slug}/spots/{spot.pk}/horizon/")
    phone.get_by_role("button", name="Use the phone's own tilt").click()
    phone.get_by_text("Type the angles below").wait_for()
    for name in ("north", "east", "south", "west"):
        phone.get_by_label(name, exact=True).fill("12")
    phone.get_by_role("button", name="Save horizon").click()
    phone.get_by_role("heading", name="Month by month").wait_for()
    assert Horizon.objects.get().how == "typed"
