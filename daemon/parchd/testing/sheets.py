"""Build sheets for tests: invented instruments, invented prices."""

from datetime import date

from parchd.workbench.limits import Site
from parchd.workbench.price_file import parse_prices
from parchd.workbench.sheet import Order, Sheet, draw_up

PRICES = """\
currency = "EUR"
bought_unit = 120
[parts]
cup = 9.50
pipe = 4.20
tee = 1.10
cap = 2
stopper = 0.90
transducer = 14
gauge = 11
fitting = 1.20
boot = 0.80
cable = 6
input = { price = 22, pack = 4 }
epoxy = { price = 8.90, pack = 10 }
cement = 7
tape = 1
abrasive = 2
[tools]
"hand vacuum pump" = 45
saw = 18
"""
"""Prices of all parts, round and invented."""


def order_of(*depths_mm: float, count: int = 3, altitude_m: float = 420.0, name: str = "Quillmere Orchard") -> Order:
    """So many instruments of each depth; 30 and 60 cm when left out."""
    return Order(dict.fromkeys(depths_mm or (300.0, 600.0), count), Site(name, altitude_m))


def sheet_of(order: Order, prices: str = "", notes: tuple[str, ...] = ()) -> Sheet:
    """The sheet of an order, dated 14 May 2026."""
    return draw_up(order, date(2026, 5, 14), parse_prices(prices, "prices.toml"), notes)
