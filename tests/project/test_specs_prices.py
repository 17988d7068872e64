"""Prices: what the job gives arrives, what it does not give is invented and named."""

from __future__ import annotations

import re

import pytest

from gradework.earthwork.materials import DEFAULT_GRAVEL
from gradework.errors import InputError
from gradework.foundations.prices import NOT_COUNTED, PriceList
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.specs import PRICED, price_list, prices_missing

BODY = 'name = "x"\nunits = "ft"\n[survey]\nnotes = "n"\n[building]\nsize = [16, 12]\ncorner = [0, 0]\n'
FULL = """
[prices]
gravel = "38 per short ton"
dig = "60 per yd3"
haul = "25 per yd3"
boards = "3.50 per sq ft"
stakes = 3.20
screws = 0.12
timbers = "6.20 per sq ft"
pins = 4
timber_screws = 2
forms = "2.20 per sq ft"
film = "0.12 per sq ft"
mesh = "0.42 per sq ft"
fabric = "0.12 per sq ft"
anchor = 30
concrete = "180 per yd3"
short_load = 120
concrete_bag = "6.80 per 80 lb bag"
earth = "17 per yd3"
shims = 1.50
setout_stakes = 0.90
string = 8
pipe = 14
gutter = 13
lumber = "500 per m3"
floor_sheets = "1.50 per sq ft"
hour = 25
plate_day = 60
laser_day = 45
excavator_day = 250
downspout = 20
seed = "4 per lb"
date = "June 2026"
"""

MADE_UP = tuple(key for key in PRICED if key not in NOT_COUNTED)


def job(text: str) -> Job:
    return read_job((BODY + text).encode())


def test_what_is_not_given_is_invented_and_named() -> None:
    plain = job("[pad]\n[piers]\n[slab]\n")
    metric = price_list(read_job(BODY.replace('units = "ft"', 'units = "m"').encode() + b"[slab]\n"))
    assert (metric.concrete.bag, metric.concrete.mix_step) == (25.0, 0.25)
    assert set(prices_missing(plain)) == set(MADE_UP) - {
        "earth",
        "pipe",
        "gutter",
        "downspout",
        "floor_sheets",
    }
    wet = '[pad]\n[piers]\n[slab]\nfill = "earth"\n[soil]\nkind = "clay"\n[drainage]\nroof_water = "gutter"\n'
    assert prices_missing(job(wet)) == tuple(key for key in MADE_UP if key != "floor_sheets")
    with_door = BODY.replace("[building]", '[building]\ndoor = { side = "1-2" }')
    framed = tuple(key for key in MADE_UP if key != "floor_sheets")
    assert prices_missing(read_job((with_door + wet).encode())) == framed
    assert prices_missing(read_job((with_door + wet + "[floor]\norder = true\n").encode())) == MADE_UP
    assert price_list(plain) == PriceList()
    any_job = {"dig", "haul", "gravel", "setout_stakes", "string", "lumber", "screws"}
    assert set(prices_missing(job("[piers]\n"))) == any_job | {"shims", "fabric", "anchor"}
    assert set(prices_missing(job("[piers]\ncover = false\n"))) == any_job | {"shims", "anchor"}


def test_a_full_list_invents_nothing() -> None:
    prices = price_list(job("[pad]\n[piers]\n[slab]\n" + FULL))
    assert not prices.invented
    assert prices.date == "June 2026"
    # 1 yd³ = 0.764554857984 m³ and 1 ft² = 0.09290304 m², exactly
    assert prices.dig == pytest.approx(60 / 0.764554857984)
    assert prices.earth == prices.for_slab().earth == pytest.approx(17 / 0.764554857984)
    assert prices.for_slab().hauling == pytest.approx(prices.haul * 1.25)
    assert prices.for_piers().anchor == 30
    assert prices.for_piers().fabric == pytest.approx(0.12 / 0.09290304)
    assert prices.forms == pytest.approx(2.2 / 0.09290304)
    sale = prices.concrete
    assert (sale.mix_price, sale.short_charge) == pytest.approx((180 / 0.764554857984, 120))
    assert (sale.bag_price, sale.bag) == pytest.approx((6.80, 80 * 0.45359237))


def test_a_dry_kilogram_is_paid_with_its_water() -> None:
    prices = price_list(job(FULL + '[supplier]\nmoisture = "7 %"\n'))
    assert prices.gravel == pytest.approx(38 / 907.18474)
    assert prices.dry() == pytest.approx(38 / 907.18474 * 1.07)
    own = price_list(job(FULL))
    assert own.dry() == pytest.approx(38 / 907.18474 * (1 + DEFAULT_GRAVEL.moisture.value))


@pytest.mark.parametrize("key", PRICED)
def test_each_key_of_a_job_is_the_price_of_one_thing(key: str) -> None:
    """Twice the figure in the job: that price doubles and no other moves; blocks carry their own."""
    before = price_list(job(FULL))
    twice = re.sub(rf'^({key} = "?)([0-9.]+)', lambda m: f"{m[1]}{2 * float(m[2])}", FULL, flags=re.MULTILINE)
    after = price_list(job(twice))
    ratios = {name: after.each(name) / before.each(name) for name in PRICED}
    assert ratios == pytest.approx({name: 2.0 if name == key else 1.0 for name in PRICED})


@pytest.mark.parametrize(
    "line",
    [
        "short_load = -1",
        'short_load = "120"',
        'concrete_bag = "6.80"',
        'concrete_bag = "6.80 per bag"',
        'concrete_bag = "6.80 per 80 in"',
        "concrete_bag = 6.8",
        'concrete = "180 per ton"',
        "date = 2026",
    ],
)
def test_prices_that_cannot_be(line: str) -> None:
    with pytest.raises(InputError) as told:
        job(f"[prices]\n{line}\n")
    assert [(fault.code, fault.line) for fault in told.value.faults] == [("job-value", 9)]


def test_a_bag_of_two_pounds_is_no_bag() -> None:
    with pytest.raises(InputError, match=r"2\.21 lb to 220 lb"):
        job('[prices]\nconcrete_bag = "6.80 per 2 lb"\n')
